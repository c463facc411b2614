"""Who is let in, how much they may send, and what every answer carries."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.http.conftest import Served, serve

KEY = "k-2f9c"


@pytest.fixture(scope="module")
def guarded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    made = serve(
        tmp_path_factory.mktemp("guarded") / "s.db", "--workers", 1, "--rate", "5/minute", "--max-upload", 0.1,
        "--most-waiting", 2, SIDEWISE_KEYS=f"other, {KEY}",
    )  # fmt: skip
    yield made
    made.stop()


def bearer(key: str = KEY) -> dict[str, str]:
    return {"Authorization": f"Bearer {key}"}


def test_without_a_key_nobody_gets_in(guarded: Served) -> None:
    for headers in ({}, bearer("wrong"), {"Authorization": KEY}, {"X-API-Key": "wrong"}):
        answer = guarded.client.get("/api/jobs", headers=headers)
        assert answer.status_code == 401 and answer.headers["www-authenticate"] == "Bearer"
        assert answer.json()["hint"]
    assert guarded.client.get("/api/jobs", headers=bearer()).status_code == 200
    assert guarded.client.get("/api/jobs", headers={"X-API-Key": KEY}).status_code == 200


def test_health_needs_no_key(guarded: Served) -> None:
    assert guarded.client.get("/health").status_code == 200


def test_too_many_changes_are_slowed_down_and_reading_is_not(guarded: Served) -> None:
    codes = [guarded.client.post("/api/demos/none", headers=bearer("other")).status_code for _ in range(7)]
    assert codes == [404] * 5 + [429] * 2
    answer = guarded.client.post("/api/demos/none", headers=bearer("other"))
    assert answer.headers["retry-after"] and answer.json()["code"] == "too_many"
    assert guarded.client.get("/api/jobs", headers=bearer("other")).status_code == 200


def test_too_large_an_upload_is_refused(guarded: Served) -> None:
    big = {"file": ("big.step", b"x" * 200_000)}
    answer = guarded.client.post("/api/jobs", files=big, headers=bearer())
    assert answer.status_code == 413 and answer.headers["content-type"] == "application/problem+json"


def test_an_upload_that_does_not_say_its_size_is_counted(guarded: Served) -> None:
    def body() -> Iterator[bytes]:
        yield b'--b\r\nContent-Disposition: form-data; name="file"; filename="x.step"\r\n\r\n'
        for _ in range(30):
            yield b"x" * 10_000
        yield b"\r\n--b--\r\n"

    headers = bearer() | {"Content-Type": "multipart/form-data; boundary=b"}
    answer = guarded.client.post("/api/jobs", content=body(), headers=headers)
    assert answer.status_code == 413


def test_another_host_name_is_refused(service: Served) -> None:
    assert service.client.get("/api/jobs", headers={"Host": "evil.example"}).json()["code"] == "wrong_host"


def test_another_sites_page_cannot_send(service: Served) -> None:
    answer = service.client.post("/api/demos/balance_weight", headers={"Sec-Fetch-Site": "cross-site"})
    assert answer.status_code == 403


@pytest.mark.parametrize("path", ["/api/jobs", "/api/nothing", "/health"])
def test_every_answer_carries_the_security_headers(service: Served, path: str) -> None:
    headers = service.client.get(path).headers
    assert headers["x-content-type-options"] == "nosniff" and "default-src 'self'" in headers["content-security-policy"]
    assert "server" not in headers


def test_a_full_queue_refuses_politely(tmp_path: Path, large_part: bytes) -> None:
    served = serve(tmp_path / "s.db", "--workers", 1, "--most-waiting", 2)
    try:
        answers = [
            served.client.post("/api/jobs", files={"file": (f"{n}.step", large_part)}, data={"job": '{"stock": 8}'})
            for n in range(8)
        ]
        codes = [a.status_code for a in answers]
        assert codes[:2] == [201, 201] and 503 in codes
        refused = answers[codes.index(503)]
        assert refused.json()["code"] == "queue_full" and refused.headers["retry-after"]
        for answer in answers:
            if answer.status_code == 201:
                served.client.delete(f"/api/jobs/{answer.json()['id']}")
    finally:
        served.stop()


def test_nothing_of_an_upload_is_in_the_log(tmp_path: Path, part: bytes) -> None:
    """Neither names nor contents, whether a part is planned, is no STEP file, or spoils the reader."""
    served = serve(tmp_path / "s.db", "--workers", 1)
    secret = b"HUSHHUSH"
    try:
        for n, data in enumerate((part.replace(b"Open CASCADE", secret), secret * 50, part[: len(part) // 2] + secret)):
            job = served.upload(data, f"{secret.decode()}{n}.step", job='{"stock": 2}')
            served.ended(job["id"])
        served.client.post(
            "/api/jobs", files={"file": (f"{secret.decode()}.step", part)}, data={"job": secret.decode()}
        )
    finally:
        served.client.close()
        served.process.terminate()
        _, log = served.process.communicate(timeout=60)
    assert secret.decode() not in log
