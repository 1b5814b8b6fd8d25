"""Celery's settings. The job's database row is the truth, so no broker has to remember anything for us."""

from typing import Any

from vaslab import env, spool

broker_transport_options: dict[str, Any]

if env.BROKER_URL:
    broker_url = env.BROKER_URL
    # A message whose worker died comes back after this time; the sweeper is quicker, and a job runs once.
    broker_transport_options = {"visibility_timeout": 3600, "socket_timeout": 2, "socket_connect_timeout": 2}
else:
    spool.register()
    broker_url = "spool://localhost"  # the library wants a host; there is none
    broker_transport_options = {"folder": str(env.DATA_DIR / "spool"), "polling_interval": 0.05}

broker_connection_retry_on_startup = True
# A sender is answered at once when the broker is away: the row waits and the sweeper sends it again.
task_publish_retry = False
task_ignore_result = True
task_serializer = "json"
accept_content = ["json"]
worker_prefetch_multiplier = 1
worker_enable_remote_control = False
worker_send_task_events = False
worker_hijack_root_logger = False
enable_utc = True
timezone = "UTC"
