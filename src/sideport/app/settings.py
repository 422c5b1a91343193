"""The one settings file. Everything that varies comes from the environment, through ``environment.py``.

``SIDEPORT_DATA``   the folder of the database and the secret; unset: nothing is kept (tests, type checks).
``SIDEPORT_DATABASE_URL``  address of a PostgreSQL database; unset: SQLite in the data folder.
``SIDEPORT_HOSTS``  further host names, comma separated; the loopback names always work.

Debug stays off: an error page with local variables would show patients' data.
"""

import os
from pathlib import Path

import fontpkg_hind_siliguri
import fontpkg_noto_sans_devanagari
from csp.constants import NONE, SELF

from .databases import database
from .environment import data_folder, host_names, secret_key

APP = Path(__file__).resolve().parent
DATA = data_folder(os.environ)

DEBUG = False
SECRET_KEY = secret_key(DATA)
ALLOWED_HOSTS = host_names(os.environ)
ROOT_URLCONF = "sideport.app.urls"
WSGI_APPLICATION = "sideport.app.wsgi.application"

INSTALLED_APPS = [
    "django.contrib.staticfiles",
    "csp",
    "sideport.app",
    "sideport.app.planning",
    "sideport.app.record",
]
MIDDLEWARE = [
    "sideport.app.access.LoopbackOnly",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "sideport.app.access.NeverStored",
]
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [],
        "APP_DIRS": True,
        "OPTIONS": {"context_processors": ["django.template.context_processors.request"]},
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
# The loopback address speaks plain HTTP, so the deploy checks that ask for TLS do not apply; access.py is the guard.
SILENCED_SYSTEM_CHECKS = ["security.W004", "security.W008", "security.W016"]

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "{levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "loggers": {"django": {"handlers": ["console"], "level": "WARNING", "propagate": False}},
}
