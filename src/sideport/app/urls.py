"""Addresses of the whole site."""

from django.urls import include, path

from .home.views import home

__all__ = ["urlpatterns"]

urlpatterns = [
    path("", home, name="home"),
    path("", include("sideport.app.people.urls")),
    path("", include("sideport.app.patients.urls")),
    path("days/", include("sideport.app.planning.day_urls")),
    path("plans/", include("sideport.app.planning.urls")),
    path("plans/", include("sideport.app.stock.urls")),
    path("theatre/", include("sideport.app.theatre.urls")),
    path("follow-up/", include("sideport.app.followup.urls")),
    path("sources/", include("sideport.app.sources.urls")),
]
handler403 = "sideport.app.people.views_sign.refused"
handler404 = "sideport.app.planning.views.not_found"
