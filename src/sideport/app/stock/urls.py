"""Address of the shelf."""

from django.urls import path

from . import views

__all__ = ["urlpatterns"]

urlpatterns = [path("<int:plan_id>/shelf/", views.shelf, name="shelf")]
