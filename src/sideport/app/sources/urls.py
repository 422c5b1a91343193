"""Addresses of the bibliography."""

from django.urls import path

from . import views

__all__ = ["urlpatterns"]

urlpatterns = [
    path("", views.sources, name="sources"),
    path("<str:key>/", views.source, name="source"),
]
