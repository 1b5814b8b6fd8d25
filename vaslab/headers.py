"""What every answer tells the browser beside Django's own headers."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

# Nothing here needs any of them, so nothing that found its way onto a page may ask for them either.
_NOT_NEEDED = (
    "accelerometer",
    "camera",
    "display-capture",
    "geolocation",
    "gyroscope",
    "hid",
    "microphone",
    "midi",
    "payment",
    "serial",
    "usb",
)
PERMISSIONS_POLICY = ", ".join(f"{name}=()" for name in _NOT_NEEDED)


class BrowserRules:
    """Shut the machine's devices to our pages, and our pages and files to other sites."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response["Permissions-Policy"] = PERMISSIONS_POLICY
        response["Cross-Origin-Resource-Policy"] = "same-origin"
        return response
