"""Who works at the Fenmarsh Foot and Circulation Service, and whom it telephones. Everyone is invented."""

from dataclasses import dataclass

SERVICE = "Fenmarsh Foot and Circulation Service"
PASSWORD = "fenmarsh-demo-2026"  # printed at every start; the demo refuses to run on an open address

CLINICS = {
    "Alder House": "Alder House, 4 Causeway End, Fenmarsh",
    "Lock Street": "Lock Street Clinic, 19 Lock Street, Fenmarsh",
}


@dataclass(frozen=True)
class Staff:
    email: str
    name: str
    roles: tuple[tuple[str, str | None], ...]  # (role, clinic or None for the whole service)
    does: str


STAFF = (
    Staff("marda.quill@fenmarsh.example", "Marda Quill", (("measurer", "Alder House"),), "measurer"),
    Staff("tamsin.weir@fenmarsh.example", "Tamsin Weir", (("measurer", "Lock Street"),), "measurer"),
    Staff(
        "selby.wren@fenmarsh.example",
        "Dr Selby Wren",
        (("reporter", "Alder House"), ("reporter", "Lock Street")),
        "reporter",
    ),
    Staff("ivo.marsh@fenmarsh.example", "Ivo Marsh", (("wound_team", "Alder House"),), "wound team"),
    Staff(
        "petra.lode@fenmarsh.example",
        "Petra Lode",
        (("administrator", "Alder House"), ("administrator", "Lock Street")),
        "clinic administrator",
    ),
    Staff("wyn.sedgeley@fenmarsh.example", "Wyn Sedgeley", (("educator", "Alder House"),), "educator"),
    Staff(
        "sam.hythe@fenmarsh.example", "Sam Hythe", (("system_administrator", None),), "system administrator"
    ),
)

ON_CALL = "Dr Rowan Staithe"
