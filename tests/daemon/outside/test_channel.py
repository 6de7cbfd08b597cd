"""The channel: garbage, floods, nobody listening; the daemon waits for none of them."""

import json
import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.course.asks import Ask, Word
from daemon.outside.channel import ASKS, MOST_A_SCAN, STATUS, Channel, read_ask, send_ask


@pytest.fixture
def channel(tmp_path: Path) -> Iterator[Channel]:
    """The daemon's end, open."""
    opened = Channel(tmp_path)
    yield opened
    opened.close()


def throw(folder: Path, datagram: bytes) -> None:
    """Throw anything at the daemon, without waiting."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as out:
        out.setblocking(False)
        out.sendto(datagram, str(folder / ASKS))


def test_an_ask_arrives_with_its_sender_and_nonce(tmp_path: Path, channel: Channel) -> None:
    send_ask(tmp_path, Ask(Word.HERE, "page", "n1"))
    send_ask(tmp_path, Ask(Word.STOP))
    assert channel.asks() == (Ask(Word.HERE, "page", "n1"), Ask(Word.STOP, "terminal"))
    assert channel.asks() == ()


GARBAGE = [
    b"", b"\x00\xff", b"null", b"[]", b"3", b'"here"', b"{}", b'{"ask": null}', b'{"ask": "dance"}', 
    b'{"ask": ["stop"]}', b'{"ask": {"a": 1}}', b"[" * 1500, b'{"ask": "here"', b'{"ask": 1e999}', b"NaN",
]  # fmt: skip


def test_garbage_is_dropped_and_what_follows_is_heard(tmp_path: Path, channel: Channel) -> None:
    for place, datagram in enumerate(GARBAGE):
        throw(tmp_path, datagram)
        if place % 5 == 4:
            assert channel.asks() == ()
    throw(tmp_path, b'{"ask": "here", "from": 7, "nonce": [1]}')
    assert channel.asks() == (Ask(Word.HERE, "7", "[1]"),)


@given(st.binary(max_size=300))
def test_no_bytes_whatever_raise(datagram: bytes) -> None:
    ask = read_ask(datagram)
    assert ask is None or ask.word in Word


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=30),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


@given(st.fixed_dictionaries({"ask": JSON | st.sampled_from([w.value for w in Word]), "from": JSON, "nonce": JSON}))
def test_no_object_whatever_raises_and_what_is_taken_from_it_is_short(table: dict[str, object]) -> None:
    ask = read_ask(json.dumps(table).encode())
    if ask is not None:
        assert len(ask.source) <= 20
        assert len(ask.nonce) <= 64


def test_an_ask_too_long_to_be_one_is_dropped(tmp_path: Path, channel: Channel) -> None:
    throw(tmp_path, json.dumps({"ask": "here", "nonce": "x" * 5000}).encode())
    throw(tmp_path, b'{"ask": "stop"}')
    assert channel.asks() == (Ask(Word.STOP, "?"),)


def test_a_flood_is_taken_a_little_at_a_time(tmp_path: Path, channel: Channel) -> None:
    sent = 0
    try:
        for _ in range(10_000):
            throw(tmp_path, b'{"ask": "here"}')
            sent += 1
    except BlockingIOError:
        pass  # the socket's own queue is full: that is the sender's concern
    taken: list[Ask] = []
    while got := channel.asks():
        assert len(got) <= MOST_A_SCAN
        taken += got
    assert len(taken) == sent > 0


def test_a_status_is_heard_by_whoever_listens(tmp_path: Path, channel: Channel) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(str(tmp_path / STATUS))
        channel.tell({"state": "cold", "now_s": 1.5})
        assert json.loads(listener.recv(65536)) == {"state": "cold", "now_s": 1.5}


def test_nobody_listening_a_deaf_listener_and_a_huge_status_are_no_concern(tmp_path: Path, channel: Channel) -> None:
    channel.tell({"state": "cold"})
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(str(tmp_path / STATUS))
        channel.tell({"words": "x" * 5_000_000})
        for _ in range(2000):  # it never reads: its queue fills up
            channel.tell({"words": "x" * 1000})
    channel.tell({"state": "cold"})  # it is gone, its socket is still in the folder


def test_a_socket_left_by_a_killed_daemon_is_replaced(tmp_path: Path) -> None:
    left = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    left.bind(str(tmp_path / ASKS))
    left.close()
    channel = Channel(tmp_path)
    send_ask(tmp_path, Ask(Word.HERE))
    assert channel.asks() == (Ask(Word.HERE),)
    channel.close()
    assert os.listdir(tmp_path) == []


def test_a_socket_that_was_taken_away_is_made_again_with_the_next_status(tmp_path: Path, channel: Channel) -> None:
    (tmp_path / ASKS).unlink()
    with pytest.raises(FileNotFoundError):
        send_ask(tmp_path, Ask(Word.STOP))
    channel.tell({"state": "cold"})
    send_ask(tmp_path, Ask(Word.STOP))
    assert channel.asks() == (Ask(Word.STOP),)


def test_a_stranger_in_the_sockets_place_is_put_out(tmp_path: Path, channel: Channel) -> None:
    (tmp_path / ASKS).unlink()
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as stranger:
        stranger.bind(str(tmp_path / ASKS))
        channel.tell({"state": "cold"})
        send_ask(tmp_path, Ask(Word.STOP))
    assert channel.asks() == (Ask(Word.STOP),)


def test_a_folder_that_was_cleared_away_is_made_again(tmp_path: Path) -> None:
    channel = Channel(tmp_path / "run")
    (tmp_path / "run" / ASKS).unlink()
    (tmp_path / "run").rmdir()
    channel.tell({"state": "cold"})
    send_ask(tmp_path / "run", Ask(Word.STOP))
    assert channel.asks() == (Ask(Word.STOP),)
    channel.close()


def test_a_socket_that_can_not_be_made_again_is_logged_once_and_ends_nothing(
    tmp_path: Path, channel: Channel, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / ASKS).unlink()
    (tmp_path / ASKS).mkdir()  # nothing can be bound there
    for _ in range(3):
        channel.tell({"state": "cold"})
    assert len([r for r in caplog.records if "can't be made again" in r.message]) == 1
    (tmp_path / ASKS).rmdir()
    channel.tell({"state": "cold"})
    send_ask(tmp_path, Ask(Word.STOP))
    assert channel.asks() == (Ask(Word.STOP),)


def test_a_second_daemon_is_refused_on_the_same_channel_and_takes_nothing(tmp_path: Path, channel: Channel) -> None:
    for _ in range(2):
        with pytest.raises(OSError, match="another daemon runs and has the channel"):
            Channel(tmp_path)
    (tmp_path / ASKS).unlink()  # and so it is where the socket has gone
    with pytest.raises(OSError, match="another daemon runs and has the channel"):
        Channel(tmp_path)
    channel.tell({"state": "cold"})
    send_ask(tmp_path, Ask(Word.STOP))
    assert channel.asks() == (Ask(Word.STOP),)


def test_when_the_first_has_ended_the_next_may_have_the_channel(tmp_path: Path) -> None:
    Channel(tmp_path).close()
    Channel(tmp_path).close()


def test_saying_something_where_no_daemon_listens_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(OSError, match=r"No such file|refused"):
        send_ask(tmp_path, Ask(Word.STOP))


def test_half_a_character_is_not_passed_on() -> None:
    ask = read_ask(b'{"ask": "here", "from": "\\ud800", "nonce": "\\udfff"}')
    assert ask is None or (ask.source + ask.nonce).encode()
