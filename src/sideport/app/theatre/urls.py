"""Addresses of the theatre."""

from django.urls import path

from ...lens.model import Placement
from ...record.theatre_said import Pause
from . import views, views_lens

__all__ = ["urlpatterns"]

EYE = "<int:plan_id>/<str:eye_key>/"
urlpatterns = [
    path("", views.newest, name="theatre"),
    path("<int:plan_id>/", views.operating_list, name="theatre-list"),
    path(EYE, views.eye, name="theatre-eye"),
    path(f"{EYE}sign-in/", views.pause, {"kind": Pause.SIGN_IN}, name="theatre-sign-in"),
    path(f"{EYE}time-out/", views.pause, {"kind": Pause.TIME_OUT}, name="theatre-time-out"),
    path(f"{EYE}sign-out/", views.pause, {"kind": Pause.SIGN_OUT}, name="theatre-sign-out"),
    path(f"{EYE}tap/", views.tap, name="theatre-tap"),
    path(f"{EYE}undo/", views.undo, name="theatre-undo"),
    path(f"{EYE}wound/", views.wound, name="theatre-wound"),
    path(f"{EYE}abandon/", views.abandon, name="theatre-abandon"),
    path(f"{EYE}note/", views.note, name="theatre-note"),
    path(f"{EYE}lens/bag/", views_lens.lens, {"kind": Placement.BAG}, name="theatre-bag"),
    path(f"{EYE}lens/sulcus/", views_lens.lens, {"kind": Placement.SULCUS}, name="theatre-sulcus"),
    path(f"{EYE}lens/chamber/", views_lens.lens, {"kind": Placement.CHAMBER}, name="theatre-chamber"),
    path(f"{EYE}lens/aside/", views_lens.put_aside, name="theatre-aside"),
    path(f"{EYE}lens/go-on/", views_lens.use_all_the_same, name="theatre-go-on"),
    path(f"{EYE}lens/in-the-eye/", views_lens.implanted, name="theatre-implanted"),
    path(f"{EYE}lens/spoilt/", views_lens.spoilt, name="theatre-spoilt"),
]
