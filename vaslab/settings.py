"""Django's settings. What may differ between two installations is read in env.py, the rest decided here."""

from datetime import timedelta
from typing import Any

from csp.constants import NONE, SELF

from vaslab import env
from vaslab.logging import LOGGING as LOGGING
from vaslab.version import version

HOUSE = env.HOUSE
DATA_DIR = env.DATA_DIR
DATA_DIR.mkdir(parents=True, exist_ok=True)
VERSION = version()

DEMO = env.DEMO
DEBUG = env.DEBUG
SECRET_KEY = env.SECRET_KEY
SECRET_KEY_FALLBACKS = env.OLD_SECRET_KEYS
# This machine's own names always: whatever watches the service asks for /health and /ready from beside it.
ALLOWED_HOSTS = sorted({*env.HOSTS, "localhost", "127.0.0.1"})

# The demo alone may be entered with a password only; vaslab/checks.py and access refuse it elsewhere.
SECOND_FACTOR_REQUIRED = not DEMO

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "vaslab",
    "access",
    "jobs",
    "exams.patients",
    "exams.visits",
    "exams.traces",
    "exams.wounds",
    "exams.followup",
    "exams.identity",
    "reports.timeline",
    "reports.documents",
    "reports.letters",
    "reports.audit",
    "reports.exchange",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "csp",
    "django_htmx",
    "rest_framework",
    "drf_spectacular",
]

MIDDLEWARE = [
    "vaslab.logging.RequestLog",
    "vaslab.headers.BrowserRules",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "access.middleware.ActingPerson",
    "access.middleware.FailureTrail",
    "access.bearer.TokenBearer",
    "access.middleware.IdleLock",
    "access.locking.BedsideLock",
    "access.middleware.SecondFactor",
    "exams.identity.middleware.LeadsOn",
    "access.middleware.RoleMatrix",
]
ROOT_URLCONF = "vaslab.urls"
WSGI_APPLICATION = "vaslab.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [HOUSE / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "vaslab.page.page",
            ],
        },
    }
]

# Data
if env.DATABASE:
    DATABASES = {
        "default": {
            **env.DATABASE,
            # The pool keeps connections open; Django must then not keep them a second time.
            "CONN_MAX_AGE": 0,
            "OPTIONS": {
                **env.DATABASE.get("OPTIONS", {}),
                "pool": {"min_size": 1, "max_size": 10, "timeout": 10},
            },
        }
    }
else:
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": DATA_DIR / "vaslab.sqlite3",
            "OPTIONS": {
                "timeout": 20,
                # Writers queue at the start of a transaction instead of failing in the middle of one.
                "transaction_mode": "IMMEDIATE",
                # FULL: a value the page has called saved survives loss of power.
                "init_command": (
                    "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA foreign_keys=ON;"
                    "PRAGMA busy_timeout=20000;PRAGMA cache_size=-20000;PRAGMA mmap_size=134217728;"
                ),
            },
        }
    }
# Files go through the storage interface only, never by a path: a folder here, or an S3-compatible store.
MEDIA_ROOT = DATA_DIR / "files"
FILE_UPLOAD_PERMISSIONS = 0o600
STORAGES: dict[str, dict[str, Any]] = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
if env.FILES_STORE:
    STORAGES["default"] = {"BACKEND": "storages.backends.s3.S3Storage", "OPTIONS": env.FILES_STORE}
# None: backups are written as they are, which the command says.
BACKUP_KEY = env.BACKUP_KEY
# Kept with the session: the usual cookie could be read in the browser, whoever used it last.
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

# Language and time: UTC is stored, the clinic's zone is shown (access activates it).
LANGUAGE_CODE = "en-gb"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"

# Files of ours, served straight from where they lie; nothing has to be collected before a start.
STATIC_URL = "/static/"
WHITENOISE_USE_FINDERS = True

# Sign-in
AUTH_USER_MODEL = "access.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
ACCOUNT_ADAPTER = "access.sign_in.Adapter"
ACCOUNT_FORMS = {
    "login": "access.sign_in_forms.SignInForm",
    "reauthenticate": "access.sign_in_forms.ProveItForm",
    "change_password": "access.sign_in_forms.NewPasswordForm",
}
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_UNIQUE_EMAIL = True
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_REAUTHENTICATION_REQUIRED = True
ACCOUNT_REAUTHENTICATION_TIMEOUT = 300
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
# A passkey proves two things at once, the device and whoever unlocks it: it may stand for password and code.
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_WEBAUTHN_USER_VERIFICATION = "required"
MFA_FORMS = {
    "add_webauthn": "access.passkeys.NewPasskeyForm",
    "login_webauthn": "access.passkeys.SignInByPasskeyForm",
    "authenticate_webauthn": "access.passkeys.SecondFactorByPasskeyForm",
    "reauthenticate_webauthn": "access.passkeys.ProveItByPasskeyForm",
}
MFA_TOTP_ISSUER = "vaslab"
MFA_ADAPTER = "access.second_factor.SecondFactorAdapter"
# Addresses are given by an administrator, and no letters are sent.
MFA_ALLOW_UNVERIFIED_EMAIL = True
# IdleLock notes when a sign-in was last used; the library would write that on every request.
USERSESSIONS_TRACK_ACTIVITY = False
ALLAUTH_TRUSTED_PROXY_COUNT = env.PROXIES

# access.middleware.IdleLock ends a sign-in unused for IDLE_MINUTES, or older than SIGN_IN_HOURS.
IDLE_MINUTES = env.IDLE_MINUTES
SIGN_IN_HOURS = env.SIGN_IN_HOURS
SESSION_COOKIE_AGE = int(timedelta(hours=SIGN_IN_HOURS).total_seconds())
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = env.HTTPS
CSRF_COOKIE_SECURE = env.HTTPS
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "vaslab.errors.csrf_failed"

# For programs: how often each may ask, counted in access.bearer.
REQUESTS_A_MINUTE = env.REQUESTS_A_MINUTE
# For programs (docs/decisions/325): who asks and whether they may is settled before a view of it begins.
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["access.rest.ByToken"],
    "DEFAULT_PERMISSION_CLASSES": [],
    "UNAUTHENTICATED_USER": None,
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["access.rest.PlainJson"],
    # Escaped to plain ASCII: half a character that was sent must not keep the answer from being written.
    "UNICODE_JSON": False,
    "DEFAULT_CONTENT_NEGOTIATION_CLASS": "access.rest.AlwaysJson",
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "access.rest.answer_error",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "vaslab for programs",
    "DESCRIPTION": """What programs and devices may read of the record and send to it.

Send each request with `Authorization: Bearer` and the token you were given; each operation says which scope
opens it. Numbers in addresses are those that answers call `patient`, `exam`, `report` and so on. Moments
carry their zone (`2026-11-26T09:30:00Z`), days are days on the clinic's wall. Every error answer has one
shape; its `field` names the part that is meant, its `what_to_do` the next step.

**Making something**: `POST` with an `Idempotency-Key` of your own. **Changing something**: send as
`If-Match` the `ETag` with which the thing itself was last answered (a step of an exam: that of the exam).
**Lists** come a part at a time; `next` is the address of the next part on this server.

**An exam from end to end**: find the patient by identifier (`list_patients`) or register them
(`register_patient`); `book_exam`; then one `take_step` each for `identity`, `indication`, `cautions` and
`lying_flat`, each with the exam's newest `ETag`; `record_reading` for every site; `take_step` with
`measured`, which is refused in words while a planned site has neither reading nor reason; `read_findings`;
`make_report` with a conclusion and the findings' `ETag`; `read_report` until its `state` is `ready`;
`download_report`.""",
    "VERSION": VERSION,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "SERVE_INCLUDE_SCHEMA": False,
    "ENUM_NAME_OVERRIDES": {
        "YesNoUnknownEnum": "exams.patients.models.Answer",
        "SideEnum": "exams.patients.models.Side",
        "ExamStateEnum": "exams.visits.models.ExamState",
        "TraceStateEnum": "exams.traces.models.State",
        "MeasureKindEnum": "reports.audit.sent.KINDS",
        "TraceKindEnum": "exams.traces.models.Kind",
        "LimbFactKindEnum": "exams.patients.events.FactKind",
        "PrecisionEnum": "exams.patients.events.PRECISIONS",
        "WoundAnswerEnum": "exams.wounds.codes.Yes",
        "WoundStatusEnum": "exams.wounds.codes.Status",
        "ReferralStateEnum": "exams.followup.course.State",
        "ReportStatusEnum": "reports.documents.models.Status",
        "ReportStateEnum": "reports.documents.sent.STATES",
        "JobStateEnum": "jobs.models.JobState",
        "CautionKindEnum": "exams.patients.models.CautionKind",
        "RecallKindEnum": "exams.followup.course.RecallKind",
        "PromiseKindEnum": "exams.followup.course.PromiseKind",
        "ContactOutcomeEnum": "exams.followup.course.ContactOutcome",
        "ReadingOutcomeEnum": "exams.visits.models.Outcome",
        "FurtherTestEnum": "exams.visits.further.models.FurtherTest",
        "FurtherKindEnum": "exams.visits.further.sent.KINDS",
    },
    # A change says itself what it wants: the reason of a correction is never left out.
    "COMPONENT_SPLIT_PATCH": False,
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "access.described.with_scopes",
        "vaslab.api_examples.with_examples",
    ],
}

# Transport and browser
SECURE_SSL_REDIRECT = env.HTTPS
SECURE_REDIRECT_EXEMPT = [r"^health$", r"^ready$"]
SECURE_HSTS_SECONDS = int(timedelta(days=365).total_seconds()) if env.HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = env.HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if env.PROXIES else None
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        # The hash of the empty text: the chart library inserts an empty <style> and fills it by script.
        "style-src": [SELF, "'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"],
        # data: and blob: let a chart be saved as a picture.
        "img-src": [SELF, "data:", "blob:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "object-src": [NONE],
    }
}

# Shared between processes: rate limits must count every try, whichever process it reaches.
if env.BROKER_URL.startswith(("redis://", "rediss://")):
    CACHES = {
        "default": {
            "BACKEND": "django.core.cache.backends.redis.RedisCache",
            "LOCATION": env.BROKER_URL,
            "KEY_PREFIX": "vaslab",
        }
    }
else:
    CACHES = {
        "default": {
            "BACKEND": "vaslab.counting.CountingFiles",
            "LOCATION": DATA_DIR / "cache",
            # Above this, counts are thrown away at random: never those of an ordinary day.
            "OPTIONS": {"MAX_ENTRIES": 2000},
        }
    }

# The service writes no letters: an administrator hands over a link instead (access/sign_in.py).
EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"

# Jobs (jobs/services.py explains the times)
JOB_BEAT = timedelta(seconds=env.JOB_BEAT_SECONDS)
JOB_LOST_AFTER = timedelta(seconds=env.JOB_LOST_SECONDS)
JOB_WAIT_LIMIT = timedelta(seconds=env.JOB_WAIT_SECONDS)
JOB_SWEEP_SECONDS = env.JOB_SWEEP_SECONDS
