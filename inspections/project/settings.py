"""Settings of the composed app. Everything that differs from place to place comes from the environment."""

import contextlib
import os
import secrets
from datetime import timedelta
from hashlib import sha256
from pathlib import Path
from zoneinfo import ZoneInfo

import dj_database_url
import tzlocal
from django.core.exceptions import ImproperlyConfigured

from inspections.data_folder import KEY
from inspections.durable_files import sync_folder, write_durably
from inspections.owner_only import keep_new_files

from .address import NoAddress, is_of_this_computer, read_address
from .headers import REFERRER_POLICY, answer_headers
from .mail import NoMailServer, read_mail_server

# Threads of the matrix library wait for each other on a busy machine: a fit of a large pool took three times as long.
# Read when numpy is first imported, which nothing before this does.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

BASE_DIR = Path(__file__).resolve().parents[2]
# before anything is made
USERS_UMASK = keep_new_files()
DATA_DIR = Path(os.environ.get("HALFPOWER_DATA") or BASE_DIR / ".data")


def env_bool(name, default=False):
    """A yes/no environment variable; anything else is refused by name."""
    text = os.environ.get(name, "").strip().lower()
    if text in ("", "0", "no", "false"):
        return default if text == "" else False
    if text in ("1", "yes", "true"):
        return True
    raise ImproperlyConfigured(f"{name} is {text!r}: write yes or no.")


def secret_key():
    """The key, made once beside the data. Nothing starts without it, so an unwritable folder is reported here."""
    try:
        return read_or_make_key()
    except OSError as error:
        raise ImproperlyConfigured(
            f"The data folder {DATA_DIR} cannot be used: {error.strerror}. Give your account the right to write there, "
            "free some space on the disk, or name another folder with HALFPOWER_DATA."
        ) from error


def read_or_make_key():
    """The key file appears whole or not at all, so two starts at once share one key; an empty one is none."""
    path = DATA_DIR / KEY
    if not path.exists() or not path.stat().st_size:
        DATA_DIR.mkdir(parents=True, exist_ok=True)
        path.unlink(missing_ok=True)
        draft = DATA_DIR / f"{KEY}.{os.getpid()}"
        draft.unlink(missing_ok=True)
        try:
            write_durably(draft, secrets.token_urlsafe(50).encode(), mode=0o600)
            with contextlib.suppress(FileExistsError):
                os.link(draft, path)
        finally:
            draft.unlink(missing_ok=True)
        sync_folder(DATA_DIR)
    return path.read_text()


def time_zone():
    """That of the environment, else of this computer; one that nobody knows is refused by name."""
    asked = os.environ.get("HALFPOWER_TIME_ZONE")
    try:
        return ZoneInfo(asked or tzlocal.get_localzone_name()).key
    except (KeyError, ValueError, TypeError, OSError) as error:
        found = f"HALFPOWER_TIME_ZONE is {asked!r}" if asked else "The time zone of this computer is not set"
        raise ImproperlyConfigured(
            f"{found}: name one as HALFPOWER_TIME_ZONE=Europe/Amsterdam does, spelt as in the tz database."
        ) from error


def address():
    """That of HALFPOWER_ADDRESS; None where it names none, and refused by name where it is no address."""
    text = os.environ.get("HALFPOWER_ADDRESS", "")
    try:
        return read_address(text)
    except NoAddress as error:
        raise ImproperlyConfigured(f"HALFPOWER_ADDRESS is {text!r}. {error}") from error


def mail_server():
    """That of HALFPOWER_MAIL; None where it names none. What was written is not shown: a password may stand in it."""
    try:
        return read_mail_server(os.environ.get("HALFPOWER_MAIL", ""))
    except NoMailServer as error:
        raise ImproperlyConfigured(f"HALFPOWER_MAIL names no mail server. {error}") from error


def database():
    """`DATABASE_URL`, else SQLite beside the data; relative SQLite paths count from the project folder."""
    url = os.environ.get("DATABASE_URL")
    settings = dj_database_url.parse(url or "sqlite:///pool.sqlite3")
    if settings["ENGINE"].endswith("sqlite3"):
        name = BASE_DIR / settings["NAME"] if url else DATA_DIR / settings["NAME"]
        settings |= {
            "ENGINE": "inspections.project.sqlite3",
            "NAME": name,
            "OPTIONS": SQLITE_OPTIONS,
            "TEST": {"NAME": DATA_DIR / f"test_{os.getpid()}.sqlite3"},
        }
    elif settings["ENGINE"].endswith("postgresql"):
        asked = settings.setdefault("OPTIONS", {})
        asked["options"] = f"-c lock_timeout={PATIENCE_S}s {asked.get('options', '')}"
    return settings


# how long a writer waits for others, on both databases
PATIENCE_S = 20
# IMMEDIATE takes the write lock when a transaction begins, so that two writers wait instead of failing half-way.
SQLITE_OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": PATIENCE_S,
    # FULL: what a page has confirmed is on the disk, whatever happens to the power. The usual 2 MB of cache spill again
    # and again while a big pool is assessed; what is not needed is not taken.
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA cache_size=-65536;",
}

DEBUG = env_bool("HALFPOWER_DEBUG")
SECRET_KEY = os.environ.get("HALFPOWER_SECRET_KEY") or secret_key()
ADDRESS = address()
POOL_ADDRESS = ADDRESS.text if ADDRESS else ""
MAIL = mail_server()
IS_ENCRYPTED = bool(ADDRESS and ADDRESS.is_encrypted)
ALLOWED_HOSTS = os.environ.get("HALFPOWER_HOSTS", "localhost,127.0.0.1,[::1]").split(",")
if ADDRESS:
    ALLOWED_HOSTS.append(ADDRESS.name)
# by themselves or through a proxy; `serve --lan` says so, too
IS_REACHED_BY_OTHERS = not all(map(is_of_this_computer, filter(None, ALLOWED_HOSTS)))
DATABASES = {"default": database()}
# a reason is kept as long as it was typed
SIMPLE_HISTORY_HISTORY_CHANGE_REASON_USE_TEXT_FIELD = True
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_tables2",
    "django_htmx",
    "simple_history",
    "fleet",
    "inspections",
]
MIDDLEWARE = [
    "inspections.project.headers.Headers",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "inspections.project.compression.Compression",
    "inspections.project.methods.UsualMethods",
    "inspections.project.unreadable_requests.NulBytes",
    "inspections.project.sessions.Sessions",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "inspections.project.sessions.SessionsByLink",
    "inspections.project.resubmission.SignInKeepsForm",
    "django.contrib.messages.middleware.MessageMiddleware",
    "inspections.project.queued_forms.QueuedForms",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "inspections.project.storage_errors.StorageErrors",
    "inspections.project.again.DoneAgain",
]
ROOT_URLCONF = "inspections.project.urls"
WSGI_APPLICATION = "inspections.project.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "fleet.context.depots",
                "fleet.context.pool",
            ],
        },
    }
]
DJANGO_TABLES2_TEMPLATE = "includes/table.html"

AUTHENTICATION_BACKENDS = ["fleet.role_access.RoleAccess"]
AUTH_PASSWORD_VALIDATORS = [{"NAME": "fleet.password_validators.NotSoonGuessed"}]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "inspections:today"
LOGOUT_REDIRECT_URL = "sign-in"
CSRF_FAILURE_VIEW = "inspections.project.resubmission.csrf_failure"
# A month: a phone in the workshop is not asked every week; whoever leaves is deactivated, which ends it at once. One
# that nobody used for a fortnight has perhaps been lost: a weekly event and one left out lie within it.
SESSION_ENGINE = "fleet.services.session_store"
SESSION_LONGEST, SESSION_IDLE = timedelta(days=30), timedelta(days=14)
SESSION_COOKIE_AGE = int(SESSION_LONGEST.total_seconds())

# Under https a proxy on this computer decrypts; `management.serving` believes what it says of sender and scheme.
CSRF_TRUSTED_ORIGINS = [POOL_ADDRESS] if IS_ENCRYPTED else []
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = IS_ENCRYPTED
# a browser takes a cookie of such a name from this very address only, and only over https
COOKIE_PREFIX = "__Host-" if IS_ENCRYPTED else ""
# browsers send the cookies of one port to all others: two pools of one computer would sign each other out
DATA_MARK = sha256(os.fsencode(DATA_DIR.resolve())).hexdigest()[:6]
SESSION_COOKIE_NAME = f"{COOKIE_PREFIX}halfpower_session_{DATA_MARK}"
CSRF_COOKIE_NAME = f"{COOKIE_PREFIX}halfpower_csrf_{DATA_MARK}"
SECURE_SSL_REDIRECT = IS_ENCRYPTED
SECURE_SSL_HOST = ADDRESS.host if IS_ENCRYPTED else None
# the first account is made on this computer, past the proxy
SECURE_REDIRECT_EXEMPT = [r"^first-account/$", r"^static/"]
# Half a year: a browser that was here does not ask in the open meanwhile. It is told of this one address: others under
# the keeper's domain may do without https, so the checks that ask for subdomains and for preloading are off.
SECURE_HSTS_SECONDS = 180 * 24 * 3600 if IS_ENCRYPTED else 0
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = REFERRER_POLICY
# the first account is made past the proxy, and leads to the address
ANSWER_HEADERS = answer_headers(POOL_ADDRESS if IS_ENCRYPTED else "")

LANGUAGE_CODE = "en-gb"
TIME_ZONE = time_zone()
USE_I18N = True
USE_TZ = True

STATIC_URL = "static/"
# Filled at each start of the server; with HALFPOWER_DEBUG files are served from where they lie, as they are just then.
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "photos": {"BACKEND": "inspections.photo_files.PhotoFiles"},
    "staticfiles": {"BACKEND": "inspections.static_files.StaticFiles"},
}

# Django would give static files rights of its own.
FILE_UPLOAD_PERMISSIONS = None

# A folder of CSV files over the web is refused by size before it is parsed.
UPLOAD_LIMIT_BYTES = 50 * 1024 * 1024
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 20_000

# Segments that a change of policy assesses while the keeper waits; more are assessed beside the request.
ASSESS_AT_ONCE = 2_000

# One copy of the whole pool a day in the data folder, of which the last fourteen are kept.
DAILY_BACKUP = env_bool("HALFPOWER_DAILY_COPY", default=True)

MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

# Warnings and errors of everything, with their tracebacks, on stderr; a mistyped address or a refused form is no error.
# Who signed in or tried to is said, too.
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "filters": {"one_line": {"()": "inspections.project.unreadable_requests.OneLine"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line", "filters": ["one_line"]}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": [], "level": "WARNING"},
        "django.request": {"level": "ERROR"},
        "django.security.csrf": {"level": "ERROR"},
        "halfpower.sign_in": {"level": "INFO"},
        # said when all threads are busy for a moment
        "waitress.queue": {"level": "ERROR"},
    },
}
