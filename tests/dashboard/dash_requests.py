"""What a browser asks of Dash's callbacks."""

import json
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

from flask.testing import FlaskClient

Part = str | Mapping[str, object]
ORIGIN = {"Origin": "http://localhost"}
NONE: Mapping[tuple[str, str], object] = MappingProxyType({})
NONE_OF_ALL: Mapping[tuple[str, str], list[Any]] = MappingProxyType({})


def answer_of(
    client: FlaskClient,
    output: tuple[Part, str],
    inputs: Mapping[tuple[str, str], object],
    status: int = 200,
    states: Mapping[tuple[str, str], object] = NONE,
    every: Mapping[tuple[str, str], list[Any]] = NONE_OF_ALL,
) -> str:
    """What a callback with one output answers, its escaped slashes written plainly.

    every: (key, property) of states of which there are several -> the value of each.
    output, and the keys of ``inputs`` and ``states`` in the callback's order: (id, property); an id that is a mapping as JSON text.
    """
    part, name = output
    body = {
        "output": f"{written(part)}.{name}",
        "outputs": {"id": part, "property": name},
        "inputs": [{"id": one, "property": prop, "value": value} for (one, prop), value in inputs.items()],
        "state": [
            *({"id": one, "property": prop, "value": value} for (one, prop), value in states.items()),
            *(
                [{"id": {key: str(place)}, "property": prop, "value": value} for place, value in enumerate(values)]
                for (key, prop), values in every.items()
            ),
        ],
        "changedPropIds": [f"{one}.{prop}" for one, prop in inputs][:1],
    }
    answer = client.post("/_dash-update-component", json=body, headers=ORIGIN)
    assert answer.status_code == status, answer.text
    return str(answer.text).replace("\\u002f", "/")


def given(part: Part, name: str, value: object) -> dict[str, object]:
    """One input or state of ``answers_of``."""
    return {"id": part, "property": name, "value": value}


def answers_of(
    client: FlaskClient,
    outputs: Sequence[tuple[Part, str]],
    inputs: Mapping[tuple[str, str], object] | Sequence[object],
    states: Sequence[object] = (),
    changed: str = "",
) -> dict[str, dict[str, Any]]:
    """What a callback with several outputs answers: id -> property -> value, as JSON has it.

    outputs, inputs: as ``answer_of`` has them; or inputs, and states, as Dash sends them: one ``given`` each, or a list
    of them where one stands for several. changed: "ID.PROPERTY" of the input that changed, if not the first.
    """
    sent = [given(*one, value) for one, value in inputs.items()] if isinstance(inputs, Mapping) else list(inputs)
    first = next((one for one in sent if isinstance(one, dict)), None)
    body = {
        "output": f"..{'...'.join(f'{written(part)}.{name}' for part, name in outputs)}..",
        "outputs": [{"id": part, "property": name} for part, name in outputs],
        "inputs": sent,
        "state": list(states),
        "changedPropIds": [changed] if changed else [f"{one['id']}.{one['property']}" for one in [first] if one],
    }
    answer = client.post("/_dash-update-component", json=body, headers=ORIGIN)
    assert answer.status_code == 200, answer.text
    found: dict[str, dict[str, Any]] = json.loads(answer.text)["response"]
    return found


def page_of(client: FlaskClient, path: str, search: str = "") -> str:
    """What Dash puts up at this address, as JSON."""
    return answer_of(client, ("page", "children"), {("address", "pathname"): path, ("address", "search"): search})


def chart_of(client: FlaskClient, name: str, inputs: Mapping[tuple[str, str], object]) -> dict[str, object]:
    """What a page gives its chart to draw: figure, words, columns and rows."""
    part = {"chart": name, "part": "data"}
    response = json.loads(answer_of(client, (part, "data"), inputs))["response"]
    data: dict[str, object] = response[written(part)]["data"]
    return data


def written(part: Part) -> str:
    """An id as Dash writes it."""
    return part if isinstance(part, str) else json.dumps(part, sort_keys=True, separators=(",", ":"))
