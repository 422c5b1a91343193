"""Addresses of the plans."""

from django.urls import path

from . import views
from .models import SheetKind

__all__ = ["urlpatterns"]

urlpatterns = [
    path("", views.plans, name="plans"),
    path("<int:plan_id>/", views.day, name="day"),
    path("<int:plan_id>/eyes/<str:eye_key>/", views.eye, name="eye"),
    path("<int:plan_id>/eyes/<str:eye_key>/cut/", views.eye_cut, name="eye-cut"),
    path("<int:plan_id>/day.pdf", views.sheet, {"kind": SheetKind.DAY}, name="day-sheet"),
    path("<int:plan_id>/eyes.pdf", views.sheet, {"kind": SheetKind.EYES}, name="eyes-sheet"),
    path("<int:plan_id>/plan.json", views.document, name="document"),
    path("<int:plan_id>/names/plan.json", views.document_with_names, name="document-names"),
]
