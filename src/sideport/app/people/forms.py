"""The forms of accounts. Fields can be filled by a password manager and pasted into."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm

from .roles import Role

__all__ = [
    "ChangePasswordForm",
    "FirstForm",
    "NewPasswordForm",
    "PersonForm",
    "PinForm",
    "RoleForm",
    "SignInForm",
    "TokenForm",
    "UnlockForm",
    "WelcomeForm",
]


def secret(label: str, autocomplete: str, help_text: str = "", **attributes: str) -> forms.CharField:
    """A field whose content is not shown and not stripped."""
    widget = forms.PasswordInput(attrs={"autocomplete": autocomplete, **attributes})
    return forms.CharField(label=label, strip=False, max_length=500, widget=widget, help_text=help_text)


def line(label: str, autocomplete: str, longest: int, help_text: str = "", **attributes: str) -> forms.CharField:
    """A line of text."""
    widget = forms.TextInput(attrs={"autocomplete": autocomplete, **attributes})
    return forms.CharField(label=label, max_length=longest, widget=widget, help_text=help_text)


def sign_in_name(help_text: str = "") -> forms.CharField:
    """The field for what people sign in with."""
    return line("Sign-in name", "username", 60, help_text, autocapitalize="none", spellcheck="false")


def code_field() -> forms.CharField:
    """The field for a one-time code."""
    return line("One-time code", "off", 40, "Twelve letters and digits; dashes and case do not matter.",
                autocapitalize="characters", spellcheck="false")  # fmt: skip


class SignInForm(AuthenticationForm):
    """Name and password; the check behind it is throttled."""

    error_messages = {  # noqa: RUF012
        "invalid_login": "Name and password do not belong together. After five wrong tries the name waits 15 minutes.",
        "inactive": "This account is closed.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"] = sign_in_name()
        self.fields["password"] = secret("Password", "current-password")

    def clean_username(self) -> str:
        """The name as it is kept."""
        return str(self.cleaned_data["username"]).strip().lower()


class NewPasswordForm(forms.Form):
    """A password, typed twice because nobody can read it."""

    password = secret("New password", "new-password", "At least 12 characters. A few words are easier than signs.")
    again = secret("The same again", "new-password")

    def clean(self) -> dict[str, Any]:
        """Both must be the same."""
        found = super().clean() or self.cleaned_data
        if found.get("password") and found.get("again") and found["password"] != found["again"]:
            self.add_error("again", "The two are not the same.")
        return found


class FirstForm(NewPasswordForm):
    """The administrator, made by whoever reads the code where the program was started."""

    code = code_field()
    name = line("Your name", "name", 200)
    username = sign_in_name("Short, without a space.")
    unit = line("Unit", "organization", 200, "Exactly as your plans name it.")
    field_order = ("code", "name", "username", "unit", "password", "again")


class WelcomeForm(NewPasswordForm):
    """The first sign-in with a code that the administrator gave."""

    username = sign_in_name()
    code = code_field()
    field_order = ("username", "code", "password", "again")


class ChangePasswordForm(NewPasswordForm):
    """A new password for whoever knows the old one."""

    old_password = secret("Password until now", "current-password")
    field_order = ("old_password", "password", "again")


class TokenForm(forms.Form):
    """A code of the authenticator, or a recovery code."""

    token = line(
        "Code", "one-time-code", 40, "Six digits from your authenticator.", inputmode="text", spellcheck="false"
    )


class PinForm(forms.Form):
    """A new PIN, for whoever knows the password."""

    old_password = secret("Password", "current-password")
    pin = secret("New PIN", "off", "6 to 8 digits, neither all the same nor in a row.", inputmode="numeric")


class UnlockForm(forms.Form):
    """What opens the lock screen: the PIN where there is one, else the password."""

    def __init__(self, *args: Any, has_pin: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["secret"] = (
            secret("PIN", "off", inputmode="numeric") if has_pin else secret("Password", "current-password")
        )


class PersonForm(forms.Form):
    """Somebody new."""

    name = line("Name", "off", 200)
    username = sign_in_name("Short, without a space; what they will type.")
    role = forms.ChoiceField(choices=(("", "Choose a role"), *Role.choices))


class RoleForm(forms.Form):
    """Another role."""

    role = forms.ChoiceField(choices=Role.choices)
