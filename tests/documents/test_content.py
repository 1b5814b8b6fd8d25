"""A report's content is frozen: it comes back equal, and any change is seen."""

import json
from dataclasses import replace

import pytest

from reports.documents.content import content_hash, freeze, thaw
from tests.documents import contents


@pytest.mark.parametrize(
    "make", [contents.usual, contents.calcified, contents.nothing_obtained, contents.recorded]
)
def test_frozen_content_comes_back_equal(make):
    content = make()

    assert thaw(freeze(content)) == content


def test_a_picture_kept_as_json_is_drawn_from_equal_numbers():
    content = contents.recorded()

    assert thaw(json.loads(json.dumps(freeze(content)))) == content


def test_the_hash_does_not_depend_on_the_order_of_keys():
    frozen = freeze(contents.usual())
    turned = dict(reversed(frozen.items()))

    assert content_hash(turned) == content_hash(frozen)


def test_one_changed_letter_changes_the_hash():
    content = contents.usual()
    changed = replace(content, conclusion=content.conclusion.replace("0.68", "0.86"))

    assert content_hash(freeze(changed)) != content_hash(freeze(content))


def test_content_with_a_part_missing_is_refused():
    frozen = freeze(contents.usual())
    del frozen["readings"]

    with pytest.raises(KeyError, match="readings"):
        thaw(frozen)
