"""How gunicorn serves; it reads this file by itself. What the command line says goes before it."""

from vaslab import env
from vaslab.logging import LOGGING

wsgi_app = "vaslab.wsgi"
bind = "127.0.0.1:8000"
workers = env.WEB_PROCESSES
threads = env.WEB_THREADS
# Above the longest an act may take: the largest recording is sent and looked into within seconds.
timeout = 60
# A request in hand at a restart is answered; the browser keeps and sends again what was not.
graceful_timeout = 30
keepalive = 5
# A process that grew over a day of figures gives its memory back; never all of them at once.
max_requests = 20_000
max_requests_jitter = 2_000
# The address of a page may hold what was searched for: the log of requests is vaslab.logging's.
accesslog = None
logconfig_dict = LOGGING
control_socket_disable = True
