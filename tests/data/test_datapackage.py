"""`data/datapackage.json` describes the tables as they are, in the words of the Table Schema specification."""

import csv
import json

import jsonschema
import pytest

from optimizer.datafiles import data_folder
from optimizer.inputs.datapackage import data_package, data_package_text

# Data Package and Table Schema, version 1 (specs.frictionlessdata.io), the parts used here; written from memory.
SPECIFICATION = {
    "type": "object",
    "required": ["profile", "name", "resources"],
    "properties": {
        "profile": {"const": "tabular-data-package"},
        "name": {"pattern": "^[-a-z0-9._/]+$"},
        "resources": {
            "minItems": 1,
            "items": {
                "required": ["profile", "name", "path", "schema"],
                "properties": {
                    "profile": {"const": "tabular-data-resource"},
                    "name": {"pattern": "^[-a-z0-9._/]+$"},
                    "path": {"pattern": r"^(?![/.])[\w/]+\.csv$"},
                    "schema": {
                        "required": ["fields"],
                        "properties": {
                            "fields": {
                                "items": {
                                    "required": ["name", "type", "description"],
                                    "properties": {"type": {"enum": ["string", "number", "boolean"]}},
                                }
                            }
                        },
                    },
                },
            },
        },
    },
}


def rows(path: str) -> list[dict[str, str]]:
    with (data_folder() / path).open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


RESOURCES = {resource["name"]: resource for resource in data_package()["resources"]}


def test_the_file_is_up_to_date():
    written = (data_folder() / "datapackage.json").read_text(encoding="utf-8")
    assert written == data_package_text(), "run: python -m optimizer.inputs.datapackage"


def test_the_file_follows_the_specification():
    jsonschema.validate(json.loads(data_package_text()), SPECIFICATION)


@pytest.mark.parametrize("name", RESOURCES)
def test_every_table_fits_its_schema(name):
    resource = RESOURCES[name]
    table = rows(resource["path"])
    fields = {field["name"]: field for field in resource["schema"]["fields"]}
    assert list(table[0]) == list(fields)
    for row in table:
        for title, cell in row.items():
            rule = fields[title].get("constraints", {})
            if cell == "":
                assert not rule.get("required"), (name, title, row)
                continue
            if fields[title]["type"] == "number":
                assert rule.get("minimum", float("-inf")) <= float(cell) <= rule.get("maximum", float("inf"))
            assert cell in rule.get("enum", [cell])
            if fields[title]["type"] == "boolean":
                assert cell in fields[title]["trueValues"] + fields[title]["falseValues"]


@pytest.mark.parametrize("name", RESOURCES)
def test_keys_are_unique_and_references_hold(name):
    resource = RESOURCES[name]
    table, schema = rows(resource["path"]), resource["schema"]
    if "primaryKey" in schema:
        keys = [tuple(row[column] for column in schema["primaryKey"]) for row in table]
        assert len(keys) == len(set(keys))
    for reference in schema.get("foreignKeys", []):
        parent = rows(RESOURCES[reference["reference"]["resource"]]["path"])
        known = {tuple(row[column] for column in reference["reference"]["fields"]) for row in parent}
        assert {tuple(row[column] for column in reference["fields"]) for row in table} <= known
