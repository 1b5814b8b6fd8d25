"""Can this machine run the tests on that service? ``python -m tests.reach database|broker ADDRESS``"""

import sys

import psycopg
import redis


def can_make_a_database(address: str) -> bool:
    question = "SELECT rolcreatedb OR rolsuper FROM pg_roles WHERE rolname = current_user"
    try:
        with psycopg.connect(address, dbname="postgres", connect_timeout=5) as connection:
            return connection.execute(question).fetchone() == (True,)
    except psycopg.Error:
        return False


def answers(address: str) -> bool:
    try:
        return bool(redis.Redis.from_url(address, socket_timeout=5, socket_connect_timeout=5).ping())
    except redis.RedisError:
        return False


if __name__ == "__main__":
    question = {"database": can_make_a_database, "broker": answers}[sys.argv[1]]
    sys.exit(0 if question(sys.argv[2]) else 1)
