"""Addresses of follow-up. An eye is named by its operation, whose key says nothing about the patient."""

from django.urls import path

from . import views

__all__ = ["urlpatterns"]

urlpatterns = [
    path("", views.follow_up, name="follow-up"),
    path("<str:operation_key>/", views.eye, name="follow-up-eye"),
    path("<str:operation_key>/visit/", views.visit, name="visit"),
    path("<str:operation_key>/visit/<str:visit_key>/", views.correct, name="visit-correct"),
    path("<str:operation_key>/visit/<str:visit_key>/withdraw/", views.withdraw, name="visit-withdraw"),
    path("<str:operation_key>/contact/", views.contact, name="visit-contact"),
    path("<str:operation_key>/missed/", views.missed, name="visit-missed"),
    path("<str:operation_key>/slip/", views.slip, name="slip"),
]
