"""The patients' slice."""

from django.apps import AppConfig

__all__ = ["PatientsConfig"]


class PatientsConfig(AppConfig):
    """Patients, imports and what waits for a person."""

    name = "sideport.app.patients"
    label = "patients"
    verbose_name = "Patients"
