"""Job and shop files: text in, plan out, or every mistake at once with its line. Opens nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from pydantic import ValidationError

from inspect_rec import tomltext
from inspect_rec.compute.rules import Kind
from inspect_rec.errors import InputError, Mistake
from inspect_rec.methods.register import Asks, Method, Reads, named, register, versions
from inspect_rec.methods.thermal import GRADIENT
from inspect_rec.plan import Channel, Characteristic, Equipment, JobFile, ShopFile
from inspect_rec.tomltext import Place
from inspect_rec.tools import catalogue, completed

LooseEnd = tuple[Place, str, str]
"""Place in the job file, what was expected there, what was found."""

_EQUIPMENT = "equipment of the shop file"
_CHARACTERISTIC = "a characteristic of this file"

_CHANNEL = {
    Reads.RADIAL: Channel.SLIDES,
    Reads.ALONG: Channel.SLIDES,
    Reads.POINT: Channel.SLIDES,
    Reads.INDICATOR: Channel.INDICATOR,
    Reads.ANGLE: Channel.ANGLE,
    Reads.LENGTH: Channel.LENGTH,
}


def loose_ends(job: JobFile, shop: ShopFile) -> Iterator[LooseEnd]:
    """References that lead nowhere."""
    equipment = {e.id for e in shop.equipment}
    features = {f.id for f in job.feature}
    characteristics = {c.id for c in job.characteristic}
    yield from _of_features(job, equipment, features)
    yield from _of_characteristics(job, features, characteristics)
    yield from _of_tools(job, characteristics)
    yield from _of_rule(job)
    yield from _of_datum(job)
    if job.temperature.instrument not in equipment:
        where = ("temperature", "instrument")
        yield where, _EQUIPMENT, repr(job.temperature.instrument)
    elif job.temperature.correct:
        yield from _of_correction(job, {e.id: e for e in shop.equipment})
        if GRADIENT not in {*shop.influence, *job.influence}:
            what = f'influence."{GRADIENT}" in the shop file, with amount in K'
            yield ("temperature", "correct"), what, "nothing"


def _of_features(job: JobFile, equipment: set[str], features: set[str]) -> Iterator[LooseEnd]:
    for n, f in enumerate(job.feature):
        for key in ("instrument", "master"):
            name = getattr(f, key)
            if name and name not in equipment:
                yield ("feature", n, key), _EQUIPMENT, repr(name)
        if f.clamp not in ("", "none") and f.clamp not in equipment:
            yield ("feature", n, "clamp"), f"none, or {_EQUIPMENT}", repr(f.clamp)
        if f.axis and f.axis not in features:
            yield ("feature", n, "axis"), "a feature of this file", repr(f.axis)


def _of_characteristics(
    job: JobFile, features: set[str], characteristics: set[str]
) -> Iterator[LooseEnd]:
    methods = register()
    for n, c in enumerate(job.characteristic):
        where = ("characteristic", n)
        for role, name in c.feature.items():
            if name not in features:
                yield (*where, "feature"), f"a feature for {role}", repr(name)
        if c.method not in methods:
            yield (*where, "method"), " | ".join(sorted(methods)), repr(c.method)
            continue
        if c.version not in (known := versions(c.method)):
            yield (*where, "version"), " | ".join(map(str, known)), str(c.version)
            continue
        how = named(c.method, c.version)
        if how.varies and not c.of:
            yield (*where, "of"), _CHARACTERISTIC, "nothing"
        if c.of and c.of not in characteristics:
            yield (*where, "of"), _CHARACTERISTIC, repr(c.of)
        for key, expected, found in (*_asked(c, how), *_read(c, how, job)):
            yield (*where, key), expected, found


def _asked(c: Characteristic, how: Method) -> Iterator[tuple[str, str, str]]:
    """What the method asks the plan to state: nothing is guessed, nothing is ignored."""
    known = {each.name for each in how.asks}
    for name in c.parameters:
        if name not in known:
            yield "with", " | ".join(sorted(known)) or "no parameters", repr(name)
    if not how.varies and c.unit != how.unit:
        yield "unit", f'unit = "{how.unit}"', repr(c.unit.value)
    for each in how.asks:
        value = c.parameters.get(each.name)
        expected = f"{each.name} = {each.kind}: {each.what}"
        if value is None:
            if each.lacking(c.parameters):
                yield "with", expected, "nothing"
            continue
        items = value if isinstance(value, tuple) else (value,)
        if isinstance(value, tuple) is not each.many or not items:
            yield "with", f"{expected} ({'a list' if each.many else 'one'})", repr(value)
        elif each.reads is not None:
            yield from _written(each, items)
        elif not all(i in each.words if each.words else isinstance(i, Decimal) for i in items):
            yield "with", expected, ", ".join(map(str, items))


def _written(each: Asks, items: tuple[object, ...]) -> Iterator[tuple[str, str, str]]:
    """A text that isn't written as its parameter asks."""
    texts = tuple(i for i in items if isinstance(i, str))
    if len(texts) < len(items):
        yield "with", f"{each.name} = {each.kind}: {each.what}", ", ".join(map(str, items))
        return
    try:
        if each.reads is not None:
            each.reads(texts)
    except InputError as error:
        yield "with", f"{each.name} as {each.form}", str(error)


def _read(c: Characteristic, how: Method, job: JobFile) -> Iterator[tuple[str, str, str]]:
    """What the method needs to be read, and what its features read."""
    features = {f.id: f for f in job.feature}
    for role in how.roles:
        if role.lacking(c.feature, c.parameters):
            yield "feature", f"{role.name} = a feature: {role.what}", "nothing"
        if role.name not in c.feature:
            continue
        feature = features.get(c.feature[role.name])
        if feature is None:
            continue
        where, marks = f"{role.name} ({feature.id})", feature.labels
        if feature.channel is not _CHANNEL[role.reads]:
            yield "feature", f"{where}: {role.reads.value}", f"channel {feature.channel.value}"
        if not set(role.marks) <= set(marks):
            yield "feature", f"{where}: marks {', '.join(role.marks)}", ", ".join(marks)
        if len(marks) < role.least:
            yield "feature", f"{where}: {role.least} marks or more", str(len(marks))
        if role.index and len(feature.index) != len(marks):
            yield "feature", f"{where}: an index angle for each mark", str(len(feature.index))


def _of_tools(job: JobFile, characteristics: set[str]) -> Iterator[LooseEnd]:
    for n, tool in enumerate(job.tool):
        wanted: list[tuple[str, Place]] = [
            (o.of, ("tool", n, "offsets", k)) for k, o in enumerate(tool.offsets)
        ]
        wanted.append((tool.variation, ("tool", n, "variation")))
        if tool.life:
            wanted.append((tool.life.length, ("tool", n, "life", "length")))
        for name, where in wanted:
            if name and name not in characteristics:
                yield where, _CHARACTERISTIC, repr(name)


def _of_rule(job: JobFile) -> Iterator[LooseEnd]:
    """Simple acceptance holds U against a width: a limit alone needs a bound of its own."""
    if job.job.rule is None or job.job.rule.kind is not Kind.SIMPLE:
        return
    for c in job.characteristic:
        if c.info or c.width is not None or job.job.decision(c.unit).largest_expanded is not None:
            continue
        key = f"largest_expanded_{'deg' if c.deg else 'mm'}"
        yield ("job", "rule"), f"{key} = ... for {c.id}, whose limit stands alone", "nothing"


def _of_datum(job: JobFile) -> Iterator[LooseEnd]:
    """A place or length means nothing without what it counts from: the axis and from what it is
    taken, the tip, a corner, the shank end."""
    if job.job.datum:
        return
    for c in job.characteristic:
        if c.method in register() and c.version in versions(c.method):
            how = named(c.method, c.version)
            if "axis" in c.feature or how.plane.startswith("along the axis"):
                yield ("job",), f'datum = "...": what {c.id} counts from, in words', "nothing"
                return


def _of_correction(job: JobFile, equipment: Mapping[str, Equipment]) -> Iterator[LooseEnd]:
    """What a correction to 20 degC needs to know of thermometer, masters and calipers."""
    conditions = job.temperature
    if equipment[conditions.instrument].expanded is None:
        what = f"expanded = U in K of {conditions.instrument} in the shop file"
        yield ("temperature", "instrument"), what, "nothing"
    if job.job.correction:
        what = "no such text where results are corrected: the report says how much"
        yield ("job", "correction"), what, repr(job.job.correction)
    features = {f.id: (n, f) for n, f in enumerate(job.feature)}
    wanted: dict[tuple[int, str], str] = {}
    for c in job.characteristic:
        known = c.method in register() and c.version in versions(c.method)
        for role in named(c.method, c.version).roles if known else ():
            n, feature = features.get(c.feature.get(role.name, ""), (0, None))
            if feature is None:
                continue
            if role.length and (role.master is bool(feature.master)):
                where = ("master", "master") if role.master else ("instrument", "air")
                wanted[n, where[0]] = where[1]
    for (n, key), place in wanted.items():
        name = getattr(job.feature[n], key)
        if name not in equipment:
            continue
        if equipment[name].expansion is None:
            what = f"expansion = ... of {name} in the shop file, per million and kelvin"
            yield ("feature", n, key), what, "nothing"
        if not {name, place} & set(conditions.where):
            what = f"{place!r} or {name!r}, since results are corrected"
            yield ("temperature", "where"), what, ", ".join(conditions.where)


def parse_shop(text: str, name: str = "shop.toml") -> ShopFile:
    """A shop file; raises InputError with every mistake and its line."""
    source = tomltext.read(text, name)
    try:
        shop = ShopFile.model_validate(source.values)
    except ValidationError as error:
        raise InputError("the shop file has mistakes", mistakes(error, source)) from error
    loose = [
        Mistake(source.where(place), expected, found)
        for place, expected, found in _of_studies(shop)
    ]
    if loose:
        raise InputError("the shop file has mistakes", loose)
    return shop


def _of_studies(shop: ShopFile) -> Iterator[LooseEnd]:
    """Studies of what the shop file doesn't know, or in the wrong unit, or without scatter."""
    equipment = {e.id for e in shop.equipment}
    for n, each in enumerate(shop.study):
        key, stated = (each.influence, each.instrument), shop.influence.get(each.influence)
        if each.instrument and each.instrument not in equipment:
            yield ("study", n, "instrument"), _EQUIPMENT, repr(each.instrument)
        elif not each.instrument and stated is None:
            yield ("study", n, "influence"), "an influence of this file", repr(each.influence)
        elif stated is not None and stated.unit != "um":
            yield ("study", n, "influence"), "an influence in um", stated.unit
        alike = (s.groups for s in shop.study if (s.influence, s.instrument) == key)
        if all(len(set(group)) == 1 for groups in alike for group in groups):
            what = "readings that scatter: read with a finer step, or add what scatters"
            yield ("study", n, "groups"), what, "the same reading again and again"


def parse_job(text: str, shop: ShopFile, name: str = "job.toml") -> JobFile:
    """A job file, filled in from its tools' kinds and held against the shop's equipment;
    raises InputError with every mistake and its line."""
    source = tomltext.read(text, name)
    try:
        job = JobFile.model_validate(completed(source.values, catalogue()))
    except ValidationError as error:
        raise InputError("the job file has mistakes", mistakes(error, source)) from error
    job = _newest(job, source.values)
    loose = [
        Mistake(source.where(place), expected, found)
        for place, expected, found in loose_ends(job, shop)
    ]
    if loose:
        raise InputError("the job file has mistakes", loose)
    return job


def _newest(job: JobFile, values: Mapping[str, Any]) -> JobFile:
    """The job with the newest version of each method whose version the file leaves out: settled
    now, so that a later program computes the record by the same one."""
    methods = register()
    chosen = tuple(
        c
        if "version" in said or c.method not in methods
        else c.model_copy(update={"version": methods[c.method].version})
        for c, said in zip(job.characteristic, values["characteristic"], strict=True)
    )
    return job.model_copy(update={"characteristic": chosen})


def mistakes(error: ValidationError, source: tomltext.TomlText) -> list[Mistake]:
    """Every mistake with its line; a list that is short only because an item is wrong isn't
    one of its own."""
    found = error.errors(include_url=False)
    places = [each["loc"] for each in found]
    return [
        Mistake(
            source.where(each["loc"]),
            _expected(each),
            "nothing" if each["type"] == "missing" else _found(each["input"]),
            f"See {'.'.join(str(p) for p in each['loc'])}" if each["loc"] else "",
        )
        for each in found
        if each["type"] != "too_short"
        or not any(p[: len(each["loc"])] == each["loc"] != p for p in places)
    ]


def _expected(each: Mapping[str, Any]) -> str:
    if each["type"] == "extra_forbidden":
        return "no such key"
    if each["type"] == "missing":
        return f"{each['loc'][-1]} = ..."
    said = str(each["msg"]).removeprefix("Value error, ").removeprefix("expected ")
    return said[0].lower() + said[1:]


def _found(value: object) -> str:
    said = str(value) if isinstance(value, Decimal | int | str) else type(value).__name__
    return repr(said if len(said) <= 60 else said[:57] + "...")
