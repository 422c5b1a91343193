"""Addresses of operating days before their plan."""

from django.urls import path

from . import views_days

__all__ = ["urlpatterns"]

urlpatterns = [
    path("", views_days.days, name="days"),
    path("<str:day>/", views_days.day_list, name="day-list"),
    path("<str:day>/set/", views_days.change_day, name="day-set"),
    path("<str:day>/plan/", views_days.plan_now, name="plan-now"),
]
