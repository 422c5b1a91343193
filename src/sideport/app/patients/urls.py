"""Addresses of patients, imports and tasks."""

from django.urls import path

from . import views, views_eyes, views_tasks

__all__ = ["urlpatterns"]

urlpatterns = [
    path("patients/", views.patients, name="patients"),
    path("patients/new/", views.new, name="patient-new"),
    path("patients/<slug:key>/", views.patient, name="patient"),
    path("patients/<slug:key>/correct/", views.correct, name="patient-correct"),
    path("patients/<slug:key>/history/", views.history, name="patient-history"),
    path("patients/<slug:key>/list/", views.change_list, name="patient-list"),
    path("patients/<slug:key>/take-back/", views_eyes.withdraw, name="take-back"),
    path("patients/<slug:key>/readings/<slug:reading>/", views_eyes.correct_reading, name="reading-correct"),
    path("patients/<slug:key>/<slug:side>/", views.story, name="story"),
    path("patients/<slug:key>/<slug:side>/findings/", views_eyes.findings, name="findings"),
    path("patients/<slug:key>/<slug:side>/readings/", views_eyes.readings, name="readings"),
    path("import/", views_tasks.bring, name="import"),
    path("import/<int:import_id>/", views_tasks.brought, name="brought"),
    path("import/<int:import_id>/set-aside.csv", views_tasks.brought_csv, name="brought-csv"),
    path("import/<int:import_id>/mended/", views_tasks.mended, name="mended"),
    path("tasks/", views_tasks.tasks, name="tasks"),
    path("tasks/look/", views_tasks.look, name="look"),
    path("tasks/<slug:task>/", views_tasks.task, name="task"),
]
