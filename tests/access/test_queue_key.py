"""The key that encrypts values waiting in a browser: for one person, for a day, gone at sign-out."""

import base64
from datetime import timedelta

from django.urls import reverse

from access import clock, services
from access.models import QueueKey

HERE = reverse("access:queue_key")


def test_the_key_is_32_random_bytes(measurer, client_as):
    answer = client_as(measurer).get(HERE).json()

    assert len(base64.b64decode(answer["key"])) == 32
    assert answer["person"] == measurer.user.pk


def test_the_same_person_gets_the_same_key_from_another_sign_in(measurer, client_as):
    first = client_as(measurer).get(HERE).json()

    assert client_as(measurer).get(HERE).json() == first


def test_two_people_have_two_keys(measurer, reporter, client_as):
    assert client_as(measurer).get(HERE).json()["key"] != client_as(reporter).get(HERE).json()["key"]


def test_after_a_day_there_is_a_new_key(measurer):
    first = bytes(services.hand_out_queue_key(by=measurer).key)

    with clock.at(clock.now() + timedelta(hours=25)):
        assert bytes(services.hand_out_queue_key(by=measurer).key) != first


def test_after_signing_out_there_is_a_new_key(measurer, client_as):
    client = client_as(measurer)
    first = client.get(HERE).json()["key"]
    client.post(reverse("account_logout"))

    assert client_as(measurer).get(HERE).json()["key"] != first


def test_an_unused_sign_in_that_ended_leaves_the_key(measurer, client_as, settings):
    client = client_as(measurer)
    first = client.get(HERE).json()["key"]
    later = clock.now() + timedelta(minutes=settings.IDLE_MINUTES + 1)
    with clock.at(later):
        client.get(HERE)
        assert client_as(measurer).get(HERE).json()["key"] == first


def test_a_disabled_account_keeps_no_key(measurer, system_administrator):
    services.hand_out_queue_key(by=measurer)
    services.disable_member(user=measurer.user, by=system_administrator)

    assert not QueueKey.objects.filter(user=measurer.user).exists()


def test_no_cache_keeps_the_key(measurer, client_as):
    assert "no-store" in client_as(measurer).get(HERE).headers["Cache-Control"]
