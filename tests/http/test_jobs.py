"""Uploads, documents and new plans, against the real service."""

from __future__ import annotations

import json
import struct
from pathlib import Path

import cadquery as cq
import httpx
import pytest

from shared.mesh import Mesh
from tests.batch.conftest import sidewise
from tests.http.conftest import Served

STOCK = '{"stock": 3}'


def stages(service: Served, job: str) -> list[str]:
    """What a job waited for, as its event stream tells it."""
    with service.client.stream("GET", f"/api/jobs/{job}/events") as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        return [json.loads(line[5:])["stage"] for line in answer.iter_lines() if line.startswith("data:")]


def test_the_documents_are_those_of_the_command_line(service: Served, part: bytes, tmp_path: Path) -> None:
    job = service.upload(part, "plate.step")
    assert service.ended(job["id"])["state"] == "done"
    (tmp_path / "plate.step").write_bytes(part)
    for name in ("features", "plan"):
        answer = service.client.get(job["links"][name])
        assert answer.headers["content-type"] == "application/json"
        assert answer.text == sidewise(name, tmp_path / "plate.step", "-o", "-").stdout


def test_the_mesh_is_that_of_the_part(service: Served, part: bytes) -> None:
    job = service.upload(part, "plate.step")
    service.ended(job["id"])
    features = service.client.get(job["links"]["features"]).json()
    mesh = Mesh.from_bytes(service.client.get(job["links"]["mesh"]).content)
    assert set(mesh.faces.tolist()) == {face["index"] for face in features["faces"]}


def test_the_workpiece_is_there_before_and_after_each_setup(service: Served, part: bytes) -> None:
    job = service.upload(part, "plate.step")
    service.ended(job["id"])
    plan = service.client.get(job["links"]["plan"]).json()
    pieces = service.client.get(job["links"]["workpieces"]).json()
    assert [p["name"] for p in pieces] == ["stock", *(s["id"] for s in plan["setups"])]
    for piece in pieces:
        mesh = Mesh.from_bytes(service.client.get(f"{job['links']['workpieces']}/{piece['name']}").content)
        assert len(mesh.triangles) == piece["triangles"]
    missing = service.client.get(f"{job['links']['workpieces']}/s99")
    assert missing.status_code == 404 and missing.json()["code"] == "not_found"


def test_events_follow_a_job_to_its_end(service: Served, part: bytes) -> None:
    seen = stages(service, service.upload(part, "followed.step")["id"])
    assert seen[-1] == "done"
    order = [s for s in ("queued", "reading", "drawing", "planning", "done") if s in seen]
    assert [s for s in seen if s in order] == order


def test_another_stock_is_planned_without_reading_the_model_again(service: Served, part: bytes) -> None:
    first = service.upload(part, "again.step")
    service.ended(first["id"])
    answer = service.client.post(f"/api/jobs/{first['id']}/plans", json={"stock": 7, "axes": 4})
    assert answer.status_code == 201
    assert "reading" not in stages(service, answer.json()["id"])
    plan = service.client.get(answer.json()["links"]["plan"]).json()
    assert plan["job"]["stock"]["allowance"] == [7] * 6 and plan["job"]["axes"] == 4


def test_the_same_file_and_job_is_answered_from_the_store(service: Served, part: bytes) -> None:
    first = service.upload(part, "same.step", job=STOCK)
    service.ended(first["id"])
    second = service.upload(part, "same.step", job=STOCK)
    assert second["id"] != first["id"]
    assert not {"reading", "planning"} & set(stages(service, second["id"]))
    tag = service.client.get(first["links"]["plan"]).headers["etag"]
    assert service.client.get(second["links"]["plan"], headers={"If-None-Match": tag}).status_code == 304


def test_a_cutter_file_comes_with_the_upload(service: Served, part: bytes) -> None:
    tools = "kind,DC,APMX,LU,NOF,RE,SIG\nendmill,8,20,30,3,0,\nfacemill,50,5,40,5,0,\ntwist_drill,6,40,50,2,,118\n"
    job = service.client.post("/api/jobs", files={"file": ("t.step", part), "tools": ("shop.csv", tools)}).json()
    assert job["files"] == ["tools: shop.csv"]
    assert service.ended(job["id"])["state"] == "done"
    plan = service.client.get(job["links"]["plan"]).json()
    assert plan["job"]["tools"] == "shop.csv"
    assert {t["DC"] for t in plan["tools"]} <= {8, 50, 6}


def test_a_notes_file_comes_with_the_upload(service: Served, part: bytes) -> None:
    notes = '[[tolerance]]\ndiameter = 6\ngrade = "H7"\n'
    job = service.client.post("/api/jobs", files={"file": ("n.step", part), "notes": ("notes.toml", notes)}).json()
    assert job["files"] == ["notes: notes.toml"]
    assert service.ended(job["id"])["state"] == "done"
    plan = service.client.get(job["links"]["plan"]).json()
    assert "ream" in [op["name"] for setup in plan["setups"] for op in setup["operations"]]


def test_a_wrong_cutter_file_fails_with_its_line(service: Served, part: bytes) -> None:
    job = service.client.post(
        "/api/jobs", files={"file": ("t.step", part), "tools": ("shop.csv", "kind,DC\nendmill,eight\n")}
    ).json()
    ended = service.ended(job["id"])
    assert ended["error"]["code"] == "data_file" and "2" in ended["error"]["where"] + ended["error"]["message"]
    assert service.client.get(job["links"]["features"]).status_code == 200, "the part itself was read"
    assert service.client.get(job["links"]["plan"]).json()["code"] == "data_file"


def test_a_file_that_is_no_step_fails_with_the_hint_of_the_command_line(service: Served, tmp_path: Path) -> None:
    (tmp_path / "letter.step").write_text("Dear machinist")
    said = sidewise("features", tmp_path / "letter.step").stderr
    ended = service.ended(service.upload(b"Dear machinist", "letter.step")["id"])
    assert ended["state"] == "failed" and ended["error"]["code"] == "not_step"
    assert " ".join(ended["error"]["hint"].split()) in " ".join(said.split())
    answer = service.client.get(ended["links"]["plan"])
    assert answer.status_code == 422 and answer.headers["content-type"] == "application/problem+json"


def test_a_job_can_be_stopped_and_forgotten(service: Served, large_part: bytes) -> None:
    job = service.upload(large_part, "stopped.step", job='{"stock": 9}')
    assert service.client.delete(f"/api/jobs/{job['id']}").status_code == 204
    assert service.ended(job["id"])["state"] == "cancelled"
    assert service.client.get(job["links"]["plan"]).json()["code"] == "cancelled"
    assert service.client.delete(f"/api/jobs/{job['id']}").status_code == 204
    assert service.client.get(f"/api/jobs/{job['id']}").status_code == 404


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ("{", "job"),
        ('{"stock": "/etc/passwd"}', "job.stock"),
        ('{"stock": -3}', "job.stock"),
        ('{"stock": [1, 2]}', "job.stock"),
        ('{"material": "unobtainium"}', "job.material"),
        ('{"axes": 6}', "job.axes"),
        ('{"tools": "/etc/passwd"}', "job.tools"),
        ('{"time_limit": 1e9}', "job.time_limit"),
        ('{"nonsense": 1}', "job.nonsense"),
    ],
)
def test_a_wrong_job_is_refused_by_name(service: Served, part: bytes, sent: str, said: str) -> None:
    answer = service.client.post("/api/jobs", files={"file": ("p.step", part)}, data={"job": sent})
    assert answer.status_code == 422 and answer.json()["detail"].startswith(said)


@pytest.mark.parametrize(
    "name",
    ["../../etc/passwd.step", "C:\\x\\evil.step", "a\r\nSet-Cookie: x.step", "<script>.step", "x" * 500 + ".step"],
)
def test_no_file_name_does_harm(service: Served, part: bytes, name: str) -> None:
    job = service.upload(part, name)
    assert len(job["name"]) <= 120 and not set(job["name"]) & set('/\\<>\r\n"')
    service.ended(job["id"])
    model = service.client.get(f"/api/jobs/{job['id']}/model")
    assert model.content == part and "attachment" in model.headers["content-disposition"]


def test_a_demo_part_can_be_opened(service: Served) -> None:
    names = [demo["name"] for demo in service.client.get("/api/demos").json()]
    assert "altitude_carrier" in names
    job = service.client.post("/api/demos/balance_weight").json()
    assert service.ended(job["id"])["state"] == "done"
    assert service.client.post("/api/demos/no_such").status_code == 404


def test_no_answer_shows_a_path_of_the_server(service: Served, part: bytes) -> None:
    ended = [service.ended(service.upload(data, "x.step")["id"]) for data in (part, part[:3000], b"\0" * 99)]
    texts = [json.dumps(job) for job in ended]
    texts += [
        service.client.get(f"/api/jobs/{job['id']}/{kind}").text for job in ended for kind in ("features", "plan")
    ]
    for text in texts:
        assert "/tmp/" not in text and str(Path.cwd()) not in text and "site-packages" not in text


def test_the_schemas_are_there(service: Served, part: bytes) -> None:
    import jsonschema

    job = service.upload(part, "schemas.step")
    service.ended(job["id"])
    for name in ("features", "plan"):
        schema = service.client.get(f"/api/schemas/{name}").json()
        jsonschema.validate(service.client.get(job["links"][name]).json(), schema)


def test_health_and_metrics(service: Served) -> None:
    assert service.client.get("/health").json()["status"] == "ok"
    assert "sidewise_jobs_ended_total" in service.client.get("/metrics").text


def test_httpx_is_told_where_the_job_is(service: Served, part: bytes) -> None:
    answer: httpx.Response = service.client.post("/api/jobs", files={"file": ("p.step", part)})
    assert service.client.get(answer.headers["location"]).json()["id"] == answer.json()["id"]


def test_reach_quote_and_report_are_made_when_asked_for(service: Served, part: bytes) -> None:
    job = service.upload(part, "asked.step")
    service.ended(job["id"])
    reach = service.client.get(job["links"]["reach"]).json()
    assert reach["verdict"] == "reached" and len(reach["faces"]) == 7
    quote = service.client.get(job["links"]["quote"], params={"quantities": "1,50"}).json()
    assert [p["quantity"] for p in quote["prices"]] == [1, 50]
    assert quote["prices"][1]["each"] < quote["prices"][0]["each"]
    sheet = service.client.get(job["links"]["report"])
    assert sheet.headers["content-type"].startswith("text/html") and "Setup 1 of" in sheet.text
    assert service.client.get(job["links"]["report"], params={"format": "pdf"}).content.startswith(b"%PDF")


def test_two_jobs_are_compared(service: Served, part: bytes) -> None:
    old = service.upload(part, "old.step")
    service.ended(old["id"])
    new = service.client.post(f"/api/jobs/{old['id']}/plans", json={"stock": 6}).json()
    service.ended(new["id"])
    answer = service.client.post("/api/compare", json={"old": old["id"], "new": new["id"]})
    assert answer.status_code == 200 and answer.json()["schema"].startswith("sidewise.compare")
    assert service.client.post("/api/compare", json={"old": old["id"], "new": "0" * 32}).status_code == 404


MILL = 'name = "shop mill"\naxes = 3\nmax_feed = 500\n[spindle]\nmax_rpm = 900\n'


def test_other_files_plan_the_part_again_without_reading_it(service: Served, part: bytes) -> None:
    first = service.upload(part, "files.step", job=STOCK)
    service.ended(first["id"])
    sent = {"machine": ("mill.toml", MILL), "rates": ("rates.toml", 'currency = "NOK"\nmachine_hour = 1000\n')}
    answer = service.client.post(f"/api/jobs/{first['id']}/files", files=sent)
    assert answer.status_code == 201 and set(answer.json()["files"]) == {"machine: mill.toml", "rates: rates.toml"}
    second = answer.json()
    assert not {"reading", "drawing", "recognising"} & set(stages(service, second["id"]))
    assert service.ended(second["id"])["state"] == "done"
    plan = service.client.get(second["links"]["plan"]).json()
    assert plan["job"]["stock"]["allowance"] == [3] * 6, "the rest of the job stays"
    assert all(op["speed"] <= 900 and op["feed"] <= 500 for s in plan["setups"] for op in s["operations"])
    assert service.client.get(second["links"]["quote"]).json()["rates"]["currency"] == "NOK"
    third = service.client.post(
        f"/api/jobs/{second['id']}/files", data={"drop": "machine", "job": '{"stock": 4}'}
    ).json()
    assert third["files"] == ["rates: rates.toml"] and third["job"]["stock"] == 4
    wrong = service.client.post(f"/api/jobs/{second['id']}/files", data={"drop": "chair"})
    assert wrong.status_code == 422 and "chair" in wrong.json()["detail"]


def test_other_rates_change_the_price_and_not_the_plan(service: Served, part: bytes) -> None:
    first = service.upload(part, "rates.step")
    service.ended(first["id"])
    sent = {"rates": ("rates.toml", "machine_hour = 10000\n")}
    second = service.client.post(f"/api/jobs/{first['id']}/files", files=sent).json()
    assert "planning" not in stages(service, second["id"])
    assert service.client.get(second["links"]["plan"]).content == service.client.get(first["links"]["plan"]).content
    prices = [service.client.get(job["links"]["quote"]).json()["prices"][0]["each"] for job in (first, second)]
    assert prices[1] > prices[0]


def test_a_model_of_the_stock_is_the_block(service: Served, part: bytes, tmp_path: Path) -> None:
    """The plate is 60 x 40 x 10 about the origin; the block 70 x 50 x 16."""
    cq.exporters.export(cq.Workplane().box(70, 50, 16), str(tmp_path / "blank.step"))
    first = service.upload(part, "blank_wanted.step")
    service.ended(first["id"])
    sent = {"stock": ("blank.step", (tmp_path / "blank.step").read_bytes())}
    second = service.client.post(f"/api/jobs/{first['id']}/files", files=sent).json()
    service.ended(second["id"])
    plan = service.client.get(second["links"]["plan"]).json()
    stock = plan["job"]["stock"]
    assert stock["allowance"] == [5, 5, 5, 5, 3, 3] and "blank.step" in stock["source"]
    note = next(f for f in plan["findings"] if f["code"] == "stock_model")
    assert note["severity"] == "note" and "5 on -x" in note["message"] and "3 on +z" in note["message"]
    small = {"stock": ("blank.step", b"Dear machinist")}
    broken = service.ended(service.client.post(f"/api/jobs/{first['id']}/files", files=small).json()["id"])
    assert broken["error"]["code"] == "not_step" and "stock file blank.step" in broken["error"]["where"]


def test_pictures_come_as_png(service: Served, part: bytes) -> None:
    job = service.upload(part, "drawn.step")
    service.ended(job["id"])
    names = service.client.get(job["links"]["pictures"]).json()
    plan = service.client.get(job["links"]["plan"]).json()
    assert names == ["part", *(n for s in plan["setups"] for n in (f"{s['id']}_before", s["id"]))]
    made = []
    for name in names:
        answer = service.client.get(f"{job['links']['pictures']}/{name}", params={"width": 320, "height": 200})
        if answer.status_code == 501:
            assert answer.json()["code"] == "cannot_draw" and "libegl1" in answer.json()["hint"]
            return
        assert answer.headers["content-type"] == "image/png"
        assert struct.unpack(">II", answer.content[16:24]) == (320, 200)
        made.append(answer.content)
    assert len(set(made)) == len(names)
    missing = service.client.get(f"{job['links']['pictures']}/s99")
    assert missing.status_code == 404 and "part" in missing.json()["hint"]


def test_the_part_is_drawn_while_its_features_are_looked_for(service: Served, large_part: bytes) -> None:
    job = service.upload(large_part, "seen_early.step")
    with service.client.stream("GET", f"/api/jobs/{job['id']}/events") as answer:
        for line in answer.iter_lines():
            if line.startswith("data:") and json.loads(line[5:])["stage"] == "recognising":
                break
        else:
            raise AssertionError("the picture did not come first")
    assert service.client.get(job["links"]["mesh"]).status_code == 200
    service.client.delete(f"/api/jobs/{job['id']}")
