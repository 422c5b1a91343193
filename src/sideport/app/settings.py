"""The one settings file. Everything that varies comes from the environment, through ``environment.py``.

``SIDEPORT_DATA``   the folder of the database and the secret; unset: nothing is kept (tests, type checks).
``SIDEPORT_DATABASE_URL``  address of a PostgreSQL database; unset: SQLite in the data folder.
``SIDEPORT_HOSTS``  further host names, comma separated; the loopback names always work.
``SIDEPORT_CERTIFICATE``, ``SIDEPORT_CERTIFICATE_KEY``  PEM files; set: HTTPS, and other machines may connect.
``SIDEPORT_IDLE_MINUTES``  how long a screen may lie unused before it locks, 1 to 30; 5 when unset.
``SIDEPORT_BACKUP_FOLDER``, ``_KEYS``, ``_HOURS``, ``_KEEP``  backups while serving; see ``docs/how-to/backup.md``.

Debug stays off: an error page with local variables would show patients' data.
"""

import os
from datetime import timedelta
from pathlib import Path

import fontpkg_hind_siliguri
import fontpkg_noto_sans_devanagari
from csp.constants import NONE, SELF

from .backup_times import backup_keys, backup_plan
from .databases import database
from .demo_marker import demo_digests
from .environment import certificate, data_folder, host_names, idle_seconds, secret_key

APP = Path(__file__).resolve().parent
DATA = data_folder(os.environ)

DEBUG = False
SECRET_KEY = secret_key(DATA)
ALLOWED_HOSTS = host_names(os.environ)
HTTPS = certificate(os.environ) is not None
DEMO_DIGESTS = demo_digests(DATA)
BACKUP_KEYS = backup_keys(os.environ)
BACKUP_PLAN = backup_plan(os.environ)
ROOT_URLCONF = "sideport.app.urls"
WSGI_APPLICATION = "sideport.app.wsgi.application"

INSTALLED_APPS = [
    "django.contrib.staticfiles",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "django_otp.plugins.otp_static",
    "axes",
    "csp",
    "sideport.app",
    "sideport.app.patients",
    "sideport.app.people",
    "sideport.app.planning",
    "sideport.app.record",
    "sideport.app.theatre",
]
MIDDLEWARE = [
    "sideport.app.loopback.LoopbackOnly",
    "sideport.app.limits.SmallEnough",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "sideport.app.access.NeverStored",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_otp.middleware.OTPMiddleware",
    "axes.middleware.AxesMiddleware",
    "sideport.app.people.gate.DeclaredOnly",
    "sideport.app.people.gate.IdleLock",
]
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": ["django.template.context_processors.request", "sideport.app.people.context.session"]
        },
    }
]

DATABASES = {"default": database(os.environ, DATA)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

LANGUAGE_CODE = "en-gb"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"

# Served straight from the installed package: whitenoise asks the finders once at start, so nothing is collected.
STATIC_URL = "/static/"
STATICFILES_DIRS = [
    ("fonts/bengali", fontpkg_hind_siliguri.ROOT / "files"),
    ("fonts/devanagari", fontpkg_noto_sans_devanagari.ROOT / "files"),
]
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False
WHITENOISE_ALLOW_ALL_ORIGINS = False

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}
X_FRAME_OPTIONS = "DENY"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Strict"
CSRF_COOKIE_SECURE = HTTPS
CSRF_FAILURE_VIEW = "sideport.app.people.views_sign.stale_form"

# Accounts: see people/ and docs/decisions/0040.
AUTH_USER_MODEL = "people.Account"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("username", "name", "unit")},
    },
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign-in"
SECOND_FACTOR_ROLES = frozenset({"lead-surgeon", "auditor", "administrator"})
"""Roles that see many patients: a password alone is too little."""
IDLE_LOCK_S = idle_seconds(os.environ)
OTP_TOTP_ISSUER = "Sideport"
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_USERNAME_FORM_FIELD = "username"
AXES_RESET_ON_SUCCESS = True
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_LOCKOUT_CALLABLE = "sideport.app.people.views_sign.too_many"
AXES_ENABLE_ADMIN = False
AXES_VERBOSE = False

# Sessions are rows, so that they can be ended here; their content is signed. A working day is the longest.
SESSION_ENGINE = "django.contrib.sessions.backends.db"
SESSION_COOKIE_AGE = 12 * 60 * 60
SESSION_EXPIRE_AT_BROWSER_CLOSE = True
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Strict"
SESSION_COOKIE_SECURE = HTTPS
# The loopback address speaks plain HTTP, so the deploy checks that ask for TLS do not apply; loopback.py is the guard.
# With a certificate of its own, often self-signed, HSTS would lock people out when it is renewed.
SILENCED_SYSTEM_CHECKS = ["security.W004", "security.W008", "security.W012", "security.W016"]

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "{levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "loggers": {
        "django": {"handlers": ["console"], "level": "WARNING", "propagate": False},
        "axes": {"handlers": ["console"], "level": "ERROR", "propagate": False},
    },
}
