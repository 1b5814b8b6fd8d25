"""Every room is under the import rules, and every page under the role matrix."""

import tomllib

from django.apps import apps
from django.conf import settings
from django.core.management import call_command

from tests.house.files import HOUSE

CONTRACTS = {
    contract["name"]: contract
    for contract in tomllib.loads((HOUSE / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
}


def test_every_room_is_under_the_rules_of_a_room():
    ours = {
        config.name for config in apps.get_app_configs() if (HOUSE / config.name.replace(".", "/")).is_dir()
    }

    assert set(CONTRACTS["Inside a room"]["containers"]) == ours - {"vaslab"}


def test_every_module_of_views_may_not_import_models():
    views = {
        ".".join(path.relative_to(HOUSE).with_suffix("").parts)
        for room in CONTRACTS["Inside a room"]["containers"]
        for path in (HOUSE / room.replace(".", "/")).glob("*views*.py")
    }
    named = set(CONTRACTS["Views never import models"]["source_modules"])

    assert {view for view in views if not view.endswith(".views")} <= named


def test_every_page_is_in_the_role_matrix_and_nothing_else_is():
    call_command("check", fail_level="WARNING")


def test_who_acts_is_known_before_the_role_matrix_is_asked():
    order = [name.rpartition(".")[2] for name in settings.MIDDLEWARE]

    assert order[-1] == "RoleMatrix"
    assert order.index("AuthenticationMiddleware") < order.index("ActingPerson") < order.index("RoleMatrix")
