"""Addresses of accounts."""

from django.urls import path

from . import views_own, views_people, views_sign

__all__ = ["urlpatterns"]

urlpatterns = [
    path("sign-in/", views_sign.sign_in, name="sign-in"),
    path("sign-in/demo/", views_sign.walk_in, name="walk-in"),
    path("sign-in/second/", views_sign.second_step, name="second-step"),
    path("sign-out/", views_sign.sign_out, name="sign-out"),
    path("first/", views_sign.first, name="first"),
    path("welcome/", views_sign.welcome, name="welcome"),
    path("lock/", views_sign.lock, name="lock"),
    path("lock/now/", views_sign.lock_at_once, name="lock-now"),
    path("kept/", views_sign.kept, name="kept"),
    path("me/", views_own.own, name="own"),
    path("me/password/", views_own.password, name="own-password"),
    path("me/pin/", views_own.pin, name="own-pin"),
    path("me/second/", views_own.enrol, name="second-enrol"),
    path("me/codes/", views_own.codes, name="own-codes"),
    path("people/", views_people.people, name="people"),
    path("people/add/", views_people.add, name="person-add"),
    path("people/reads/", views_people.reads, name="reads"),
    path("people/<int:account_id>/", views_people.person, name="person"),
    path("people/<int:account_id>/close/", views_people.close, name="person-close"),
    path("people/<int:account_id>/reopen/", views_people.reopen, name="person-reopen"),
    path("people/<int:account_id>/welcome/", views_people.welcome_again, name="person-welcome"),
]
