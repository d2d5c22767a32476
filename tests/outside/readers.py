"""Open a run's tables with pandas and pyarrow and hold them against each other and against the manifest."""

import hashlib
import json
import pathlib
import sys

import numpy as np
import pandas as pd
import pyarrow.parquet as pq

folder = pathlib.Path(sys.argv[1])
manifest = json.loads((folder / "manifest.json").read_text())

listed = {file["name"]: file for file in manifest["files"]}
present = {path.name for path in folder.iterdir()} - {"manifest.json"}
assert set(listed) == present, (sorted(listed), sorted(present))
for name, file in listed.items():
    content = (folder / name).read_bytes()
    assert len(content) == file["bytes"], name
    assert hashlib.sha256(content).hexdigest() == file["sha256"], name

rows = {}
for table in ("observed", "observed_health", "key"):
    units = json.loads((folder / f"{table}.units.json").read_text())
    text = pd.read_csv(folder / f"{table}.csv", parse_dates=["time"])
    typed = pd.read_parquet(folder / f"{table}.parquet")
    metadata = pq.read_schema(folder / f"{table}.parquet").metadata
    assert json.loads(metadata[b"units"]) == units, table
    assert metadata[b"seed"].decode() == str(manifest["seed"]), table
    assert list(text.columns) == list(typed.columns), table
    assert set(text.columns) == set(units), table
    assert len(text) == len(typed) > 0, table
    assert str(typed["time"].dt.tz) == "UTC", typed["time"].dtype
    assert (text["time"] == typed["time"]).all(), table
    assert typed["time"].is_monotonic_increasing, table
    for name in text.columns.drop("time"):
        left, right = text[name].to_numpy(float), typed[name].to_numpy(float)
        assert (np.isnan(left) == np.isnan(right)).all(), (table, name)
        # Text shows a fixed number of decimals, Parquet the nearest single-precision number.
        decimals = text[name].dropna().astype(str).str.extract(r"\.(\d+)")[0].str.len().max()
        slack = 0.51 * 10.0 ** -(0 if np.isnan(decimals) else decimals)
        near = np.isclose(left, right, rtol=2e-7, atol=slack, equal_nan=True)
        assert near.all(), (table, name, left[~near][:3], right[~near][:3])
    rows[table] = len(text)

tally = manifest["tally"]
assert rows["observed_health"] == tally["health_reports"]
assert rows["key"] == tally["intervals"]
observed = pd.read_parquet(folder / "observed.parquet")
in_order = (observed["intervals_late"] == 0).sum()
assert in_order == tally["observations"], (in_order, tally["observations"])
assert 0 < len(observed) - in_order <= tally["late"], (len(observed), tally["late"])
believed = observed["thickness_of_rainfall_amount"].sum()
assert abs(believed - tally["rain_believed_mm"]) < 1e-3, (believed, tally["rain_believed_mm"])

# The README's way to the answer key, over a link that loses, delays and overtakes.
key = pd.read_parquet(folder / "key.parquet")
key = key[key.alive == 1].assign(life=key.restarts % 16)
joined = pd.merge_asof(observed.sort_values("time"), key, on="time", by=["life", "sequence"], suffixes=("", "_key"))
assert len(joined) == len(observed)
for name in ("air_temperature", "relative_humidity", "air_pressure", "wind_speed", "wind_from_direction", "illuminance_lx"):
    assert np.allclose(joined[name], joined[f"{name}_actual"], rtol=2e-7, equal_nan=True), name

with open(folder / "capture.ndjson", encoding="utf-8") as capture:
    kinds = [json.loads(line).get("event") for line in capture]
assert kinds.count("sent") == tally["sent"] and kinds.count("heard") == tally["heard"]
print(f"readers: {rows} rows, {len(listed)} files agree with each other and with the manifest")
