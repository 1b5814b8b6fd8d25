from queue import Empty

import pytest
from celery import current_app


@pytest.fixture
def sent():
    """Takes the messages out of the broker and gives the numbers of their jobs, oldest first."""

    def read():
        numbers = []
        with (
            current_app.connection_for_read() as connection,
            connection.SimpleQueue("celery", no_ack=True) as queue,
        ):
            while True:
                try:
                    numbers.append(queue.get_nowait().payload[0][0])
                except Empty:
                    return numbers

    read()
    return read
