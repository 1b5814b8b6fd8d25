"""The sign-in library's forms in our words. A forgotten password is mended by an administrator, so no link
to mend it alone is offered."""

from typing import Any

from allauth.account.forms import ChangePasswordForm, LoginForm, ReauthenticateForm


class SignInForm(LoginForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _say(self, login="Email", password="Password")  # noqa: S106  (a label)


class ProveItForm(ReauthenticateForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _say(self, password="Your password")  # noqa: S106  (a label)


class NewPasswordForm(ChangePasswordForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _say(
            self,
            oldpassword="Your present password",
            password1="New password",
            password2="The new password again",
        )


def _say(form: Any, **labels: str) -> None:
    for name, label in labels.items():
        form.fields[name].label = label
        words = f"{label[0].lower()}{label[1:]}"
        whose = "" if words.startswith(("your ", "the ")) else "your "
        form.fields[name].error_messages["required"] = f"Write {whose}{words}."
        form.fields[name].help_text = ""
        form.fields[name].widget.attrs.pop("placeholder", None)
