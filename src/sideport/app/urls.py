"""Addresses of the whole site."""

from django.urls import include, path

from .planning import views as planning

__all__ = ["urlpatterns"]

urlpatterns = [
    path("", planning.home, name="home"),
    path("", include("sideport.app.people.urls")),
    path("plans/", include("sideport.app.planning.urls")),
    path("plans/", include("sideport.app.stock.urls")),
    path("theatre/", include("sideport.app.theatre.urls")),
    path("sources/", include("sideport.app.sources.urls")),
]
handler403 = "sideport.app.people.views_sign.refused"
handler404 = "sideport.app.planning.views.not_found"
