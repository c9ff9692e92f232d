"""UDDF: what its versions say in different ways is read alike; what is broken, odd or hostile."""

from datetime import date, datetime, timedelta
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

import pytest
from hypothesis import strategies as st

from store.exchange import uddf as reader
from store.exchange.logbook import MOST_DIVES, LogFile, LogFileError, LoggedDive, LoggedKit, read_log
from store.exchange.uddf import KINDS
from store.vocabulary import Condition, ItemKind, Water
from tests.doses import doses, drawn

DATA = Path(__file__).parent / "data"
TANK = frozenset({ItemKind.CYLINDER, ItemKind.TWINSET, ItemKind.STAGE})
SAMPLE = LogFile(
    (
        LoggedDive(
            started_at=datetime(2026, 2, 28, 10, 15),
            on=date(2026, 2, 28),
            duration_s=2520,
            max_depth_m=24.6,
            min_temp_c=6.0,
            o2_fraction=0.32,
            water=None,
            conditions=frozenset(),
            kit=("reg1", "suit1", "tank1"),
            number=41,
        ),
    ),
    (
        LoggedKit("reg1", "Left post regulator", frozenset({ItemKind.REGULATOR})),
        LoggedKit("suit1", "Blue trilaminate", frozenset({ItemKind.DRY_SUIT})),
        LoggedKit("tank1", "Twelve litre steel", TANK),
    ),
    (),
)
DAY = LoggedDive(None, date(2026, 2, 28), None, None, None, None, None, frozenset(), (), None)


def uddf(*dives, kit="", gas="", sites="", root="version='3.2.3'"):
    """Return a UDDF file of these dives."""
    return (
        f"<uddf {root}><generator><name>test</name></generator>"
        f"<diver><owner id='o'><equipment>{kit}</equipment></owner></diver><divesite>{sites}</divesite>"
        f"<gasdefinitions>{gas}</gasdefinitions>"
        f"<profiledata><repetitiongroup id='g'>{''.join(dives)}</repetitiongroup></profiledata></uddf>"
    ).encode()


def a_dive(before="", after="", between="", when="2026-02-28", name="d1"):
    """Return one dive with these elements."""
    return (
        f"<dive id='{name}'><informationbeforedive><datetime>{when}</datetime>{before}</informationbeforedive>"
        f"{between}<informationafterdive>{after}</informationafterdive></dive>"
    )


def one(content):
    """Return the only dive of a file, and what was skipped."""
    log = read_log("log.uddf", content)
    assert len(log.dives) == 1
    return log.dives[0], log.skipped


@pytest.mark.parametrize("version", ["300", "323", "331"])
def test_read_log_same_dive_in_each_version_of_the_format(version):
    """Sources: UDDF schemas 3.0.0, 3.2.3 and 3.3.1; the values are read back from the 3.2.3 file.

    323 and 331 validate against their schemas; 300 has no namespace and the equipment under informationafterdive.
    """
    assert read_log("log.uddf", (DATA / f"uddf_{version}.uddf").read_bytes()) == SAMPLE


@pytest.mark.parametrize(
    "namespace", ["http://www.streit.cc/uddf/3.2/", "http://www.streit.cc/uddf/3.3/", "urn:of:another:writer"]
)
@pytest.mark.parametrize("prefix", ["", "u"])
def test_read_log_by_local_names_in_any_namespace(namespace, prefix):
    """The first two namespaces: UDDF schemas 3.2.3 and 3.3.1."""
    text = (DATA / "uddf_300.uddf").read_text()
    if prefix:
        text = (
            text.replace("</", "</\0").replace("<", f"<{prefix}:").replace(f"<{prefix}:/\0", f"</{prefix}:")
        )
        text = text.replace(f"<{prefix}:?", "<?")
    text = text.replace("uddf version=", f"uddf xmlns{prefix and ':' + prefix}='{namespace}' version=")
    assert read_log("log.uddf", text.encode()) == SAMPLE


@pytest.mark.parametrize("version", ["2.2.0", "4.0"])
def test_read_log_version_not_known_is_told(version):
    assert one(uddf(a_dive(), root=f"version='{version}'")) == (
        DAY,
        (
            f'Version: the file is UDDF "{version}"; 3.0 to 3.3.1 are known here, so look over what came of it',
        ),
    )


@pytest.mark.parametrize(
    ("written", "started_at"),
    [
        ("2026-02-28T10:15:00", datetime(2026, 2, 28, 10, 15)),
        ("2026-02-28T10:15:00Z", datetime(2026, 2, 28, 10, 15)),
        ("2026-02-28T10:15:00.250+09:30", datetime(2026, 2, 28, 10, 15)),
        ("2026-02-28T23:30:00-11:00", datetime(2026, 2, 28, 23, 30)),
        (" 2026-02-28T10:15 ", datetime(2026, 2, 28, 10, 15)),
        ("2026-02-28T24:00:00", datetime(2026, 3, 1)),
    ],
)
def test_read_log_datetime_is_the_wall_clock_as_written(written, started_at):
    dive, skipped = one(uddf(a_dive(when=written)))
    assert (dive.started_at, dive.on, skipped) == (started_at, started_at.date(), ())


def test_read_log_datetime_without_time_gives_the_day():
    assert one(uddf(a_dive(when="2026-02-28"))) == (DAY, ())


def test_read_log_datetime_with_nonsense_time_keeps_the_day():
    assert one(uddf(a_dive(when="2026-02-28T25:00:00"))) == (
        DAY,
        ('Dive "d1": the time "25:00:00" cannot be read, so only the day is kept',),
    )


def test_read_log_dives_without_a_day_are_left_out_and_told():
    dives = [
        a_dive(when=when, name=f"d{n}")
        for n, when in enumerate(["", "2026-02-30", "0001-01-01", "soon", "2026-02-28"])
    ]
    assert read_log("log.uddf", uddf("<dive/>", *dives)) == LogFile(
        (DAY,),
        (),
        (
            'Dive "1": it has no date, so it is left out',
            'Dive "d0": it has no date, so it is left out',
            'Dive "d1": its date "2026-02-30" cannot be read, so it is left out',
            'Dive "d2": its date "0001-01-01" cannot be read, so it is left out',
            'Dive "d3": its date "soon" cannot be read, so it is left out',
        ),
    )


def test_read_log_dives_come_in_order_of_time():
    whens = ["2026-03-01", "2026-02-28T14:00:00", "2026-02-28T09:00:00", "2026-02-28"]
    log = read_log("log.uddf", uddf(*[a_dive(when=when) for when in whens]))
    assert [dive.started_at or dive.on for dive in log.dives] == [
        date(2026, 2, 28),
        datetime(2026, 2, 28, 9),
        datetime(2026, 2, 28, 14),
        date(2026, 3, 1),
    ]


@pytest.mark.parametrize(
    ("element", "text", "told"),
    [
        ("greatestdepth", "-1", 'the depth "-1" comes to -1, outside 0 to 350 m'),
        ("greatestdepth", "350.1", 'the depth "350.1" comes to 350.1, outside 0 to 350 m'),
        ("greatestdepth", "deep", 'the depth "deep" cannot be read'),
        ("greatestdepth", "NaN", 'the depth "NaN" cannot be read'),
        ("greatestdepth", "INF", 'the depth "INF" cannot be read'),
        ("diveduration", "-5", 'the duration "-5" comes to -5, outside 0 to 86400 s'),
        ("diveduration", "86401", 'the duration "86401" comes to 86401, outside 0 to 86400 s'),
        ("lowesttemperature", "6.0", 'the temperature "6.0" comes to -267.1, outside -5 to 45 °C'),
        ("lowesttemperature", "318.3", 'the temperature "318.3" comes to 45.2, outside -5 to 45 °C'),
    ],
)
def test_read_log_nonsense_value_is_dropped_and_the_dive_kept(element, text, told):
    """Kelvin to degrees Celsius: minus 273.15, by definition of the scale."""
    assert one(uddf(a_dive(after=f"<{element}>{text}</{element}>"))) == (
        DAY,
        (f'Dive "d1": {told}, so it is left out',),
    )


@pytest.mark.parametrize("text", ["0", "-3", "4.5", "many", "1" * 5000])
def test_read_log_nonsense_dive_number_is_dropped(text):
    dive, skipped = one(uddf(a_dive(before=f"<divenumber>{text}</divenumber>")))
    assert dive == DAY
    assert len(skipped) == 1
    assert skipped[0].endswith("is no dive number from 1 to 1000000, so it is left out")


GAS = (
    "<mix id='air'><o2>0.21</o2></mix><mix id='ean50'><o2>0.5</o2></mix><mix id='percent'><o2>32</o2></mix>"
    "<mix id='odd'><o2>180</o2></mix><mix id='none'><o2>0.0</o2></mix><mix id='unsaid'/>"
)


@pytest.mark.parametrize(
    ("tanks", "o2", "told"),
    [
        ("", None, ()),
        ("<tankdata><link ref='air'/></tankdata><tankdata><link ref='ean50'/></tankdata>", 0.5, ()),
        (
            "<tankdata><tankused><link ref='ean50'/></tankused><tankused><link ref='air'/></tankused></tankdata>",
            0.5,
            (),
        ),
        (
            "<tankdata><tankused><analysedo2>0.491</analysedo2><link ref='ean50'/></tankused></tankdata>",
            0.491,
            (),
        ),
        ("<tankdata><link ref='unsaid'/></tankdata>", None, ()),
        (
            "<tankdata><link ref='percent'/></tankdata><tankdata><link ref='percent'/></tankdata>",
            0.32,
            ('Gas "percent": the oxygen "32" is more than the whole, so it is read as 32 %',),
        ),
        (
            "<tankdata><link ref='odd'/></tankdata><tankdata><link ref='air'/></tankdata>",
            0.21,
            ('Gas "odd": the oxygen "180" comes to 180, outside 0.01 to 1 as a fraction, so it is left out',),
        ),
        (
            "<tankdata><link ref='none'/></tankdata>",
            None,
            ('Gas "none": the oxygen "0.0" comes to 0, outside 0.01 to 1 as a fraction, so it is left out',),
        ),
    ],
)
def test_read_log_oxygen_of_the_richest_gas(tanks, o2, told):
    """`analysedo2` and `tankused`: UDDF schema 3.3.1."""
    dive, skipped = one(uddf(a_dive(between=tanks), gas=GAS))
    assert (dive.o2_fraction, skipped) == (o2, told)


def test_read_log_nonsense_gas_that_no_dive_used_is_no_matter():
    assert one(uddf(a_dive(), gas=GAS)) == (DAY, ())


KIT = (
    "<tank id='t1'><name>Port stage</name></tank><regulator id='r1'><name> Left\n post </name><manufacturer id='m'><name>A shop</name></manufacturer></regulator>"
    "<camera id='c1'><body id='b1'><name>Body</name></body><housing id='h1'><name>Red box</name></housing><flash id='f1'><name>Left flash</name></flash></camera>"
    "<equipmentconfiguration id='e1'><name>Cold set</name><link ref='t1'/><link ref='r1'/></equipmentconfiguration><mask id='k1'/>"
)


def test_read_log_kit_linked_from_anywhere_counts_once():
    dive = a_dive(
        before="<link ref='buddy7'/><link ref='k1'/><equipmentused><link ref='e1'/><link ref='t1'/></equipmentused>",
        between="<tankdata><link ref='t1'/></tankdata><tankdata><tankused><link ref='c1'/></tankused></tankdata>",
        after="<equipmentused><link ref='f1'/><link ref='r1'/></equipmentused>",
    )
    log = read_log("log.uddf", uddf(dive, kit=KIT))
    assert [dive.kit for dive in log.dives] == [("t1", "r1", "f1", "c1", "k1")]
    assert (log.kit, log.skipped) == (
        (
            LoggedKit("t1", "Port stage", TANK),
            LoggedKit("r1", "Left post", frozenset({ItemKind.REGULATOR})),
            LoggedKit("c1", "Red box", frozenset({ItemKind.CAMERA_HOUSING})),
            LoggedKit("f1", "Left flash", frozenset({ItemKind.STROBE})),
            LoggedKit("k1", "k1", frozenset({ItemKind.MASK})),
        ),
        (),
    )


def test_read_log_kit_that_the_file_does_not_list_is_told_once():
    used = "<equipmentused><link ref='r9'/></equipmentused>"
    log = read_log(
        "log.uddf", uddf(a_dive(before=used), a_dive(before=used, name="d2"), a_dive(before=used, name="d3"))
    )
    assert log == LogFile(
        (DAY, DAY, DAY),
        (),
        ('Dive "d1" and 2 more: the kit or gas "r9" is not in the file\'s list of yours, so it is left out',),
    )


@pytest.mark.parametrize(
    ("suittype", "kinds"),
    [
        ("<suittype>dry-suit</suittype>", {ItemKind.DRY_SUIT}),
        ("<suittype>wet-suit</suittype>", {ItemKind.WETSUIT}),
        ("<suittype>dive-skin</suittype>", {ItemKind.WETSUIT}),
        ("<suittype>hot-water-suit</suittype>", set()),
        ("<suittype>other</suittype>", set()),
        ("", {ItemKind.DRY_SUIT, ItemKind.WETSUIT}),
    ],
)
def test_read_log_suit_by_its_type(suittype, kinds):
    """The types: UDDF schemas 3.2.3 and 3.3.1."""
    used = a_dive(before="<equipmentused><link ref='s'/></equipmentused>")
    kit = f"<suit id='s'><name>Suit</name>{suittype}</suit>"
    assert read_log("log.uddf", uddf(used, kit=kit)).kit == (LoggedKit("s", "Suit", frozenset(kinds)),)


def test_kinds_of_every_element_of_the_schema():
    """Source: UDDF schema 3.3.1, equipmentType, cameraType and videocameraType."""
    assert set(KINDS) == set(
        """boots buoyancycontroldevice camera compass compressor divecomputer fins gloves knife lead light mask rebreather regulator
        scooter suit tank variouspieces videocamera watch body lens housing flash""".split()
    )


@pytest.mark.parametrize(
    ("environment", "water", "conditions"),
    [
        ("ocean-sea", Water.SALT, set()),
        ("lake-quarry", Water.FRESH, set()),
        ("river-spring", Water.FRESH, set()),
        ("pool", Water.POOL, set()),
        ("under-ice", None, {Condition.ICE}),
        ("cave-cavern", None, set()),
    ],
)
def test_read_log_water_by_the_site(environment, water, conditions):
    """The environments: UDDF schema 3.3.1, siteType."""
    site = f"<site id='s1'><name>Grey pier</name><environment>{environment}</environment></site>"
    dive, skipped = one(uddf(a_dive(before="<link ref='s1'/>"), sites=site))
    assert (dive.water, dive.conditions, skipped) == (water, frozenset(conditions), ())


def test_read_log_samples_are_passed_over():
    samples = (
        "<samples><waypoint><depth>99</depth><datetime>no</datetime><link ref='x'/></waypoint></samples>"
    )
    assert one(uddf(a_dive(between=samples))) == (DAY, ())


def test_read_log_no_dives_is_an_empty_log():
    assert read_log("log.uddf", b"<uddf/>") == LogFile((), (), ())


def test_read_log_latin_1_where_declared():
    kit = "<mask id='m'><name>Grüne Maske</name></mask>"
    dive = a_dive(before="<equipmentused><link ref='m'/></equipmentused>")
    content = b"<?xml version='1.0' encoding='ISO-8859-1'?>" + uddf(dive, kit=kit).decode().encode("latin-1")
    assert [piece.name for piece in read_log("log.uddf", content).kit] == ["Grüne Maske"]


LAUGHS = "".join(f"<!ENTITY l{n} '{f'&l{n - 1};' * 10}'>" for n in range(1, 10))
HOSTILE = {
    "billion laughs": f"<!DOCTYPE uddf [<!ENTITY l0 'ha'>{LAUGHS}]><uddf>&l9;</uddf>",
    "external entity": "<!DOCTYPE uddf [<!ENTITY x SYSTEM 'file:///etc/hostname'>]><uddf>&x;</uddf>",
    "external dtd": "<!DOCTYPE uddf SYSTEM 'http://127.0.0.1:9/uddf.dtd'><uddf/>",
    "parameter entity": "<!DOCTYPE uddf [<!ENTITY % x SYSTEM 'file:///etc/hostname'> %x;]><uddf/>",
    "plain dtd": "<!DOCTYPE uddf><uddf/>",
    "undefined entity": "<uddf>&nothing;</uddf>",
    "deep": "<uddf>" + "<diver>" * 100_000,
    "deep out of sight": "<uddf>" + "<x>" * 100_000,
    "huge attribute": f"<uddf><diver id='{'x' * 5_000_000}'/></uddf>",
    "huge attribute out of sight": f"<uddf><x y='{'x' * 5_000_000}'/></uddf>",
    "many dives": f"<uddf><profiledata><repetitiongroup>{'<dive/>' * (MOST_DIVES + 1)}</repetitiongroup></profiledata></uddf>",
    "truncated": (DATA / "uddf_323.uddf").read_text()[:1500],
    "bare start": "<",
    "two roots": "<uddf/><uddf/>",
    "twice the same attribute": "<uddf id='1' id='2'/>",
    "another root": "<html><body>Not found</body></html>",
    "encoding unknown": "<?xml version='1.0' encoding='klingon'?><uddf/>",
    "encoding of escapes": "<?xml version='1.0' encoding='unicode_escape'?><uddf>\\d</uddf>",
    "encoding of many bytes": "<?xml version='1.0' encoding='utf-7'?><uddf/>",
    "encoding not as declared": "<?xml version='1.0' encoding='utf-16'?><uddf/>",
    "control character": "<uddf>\x08</uddf>",
}


@pytest.mark.parametrize("content", HOSTILE.values(), ids=HOSTILE.keys())
def test_read_log_hostile_file_is_refused_in_one_sentence(content):
    refuse(content)


@doses(100, 1)
@pytest.mark.parametrize(("element", "most"), [("<x/>", "MOST_ELEMENTS"), ("<diver/>", "MOST_KEPT")])
def test_read_log_file_of_more_elements_than_any_log_is_refused_in_one_sentence(
    monkeypatch, element, most, dose
):
    """At length by the true limit, else by a hundredth of it."""
    allowed = getattr(reader, most) // dose
    monkeypatch.setattr(reader, most, allowed)
    refuse(f"<uddf>{element * (allowed + 2)}</uddf>")
    read_log("log.uddf", f"<uddf>{element * (allowed - 1)}</uddf>".encode())


def refuse(content):
    with pytest.raises(LogFileError) as refused:
        read_log("log.uddf", content.encode())
    message = str(refused.value)
    assert (message[-1], message.count(". "), "send" in message, "\n" in message) == (".", 0, True, False)
    assert len(message) < 200


def test_read_log_wrong_bytes_for_the_encoding_are_refused():
    with pytest.raises(LogFileError, match="not proper XML"):
        read_log("log.uddf", b"<?xml version='1.0' encoding='UTF-8'?><uddf>\xff\xfe\xfa</uddf>")


NAMES = st.text(
    st.characters(min_codepoint=33, max_codepoint=0x2FF, exclude_categories=("C", "Z")),
    min_size=1,
    max_size=20,
)


@st.composite
def logs(draw):
    """Draw a log that UDDF can say."""
    kit = tuple(
        LoggedKit(f"k{n}", name, frozenset({ItemKind.REGULATOR}))
        for n, name in enumerate(draw(st.lists(NAMES, max_size=4)))
    )
    starts = draw(st.lists(st.integers(0, 10**8), max_size=6, unique=True))
    dives = tuple(
        LoggedDive(
            started_at=(at := datetime(2020, 1, 1) + timedelta(seconds=seconds)),
            on=at.date(),
            duration_s=draw(st.none() | st.integers(0, 86_400)),
            max_depth_m=draw(st.none() | st.integers(0, 35_000).map(lambda x: x / 100)),
            min_temp_c=draw(st.none() | st.integers(-50, 450).map(lambda x: x / 10)),
            o2_fraction=draw(st.none() | st.integers(100, 10_000).map(lambda x: x / 10_000)),
            water=draw(st.sampled_from([None, Water.SALT])),
            conditions=frozenset(),
            kit=tuple(draw(st.permutations([piece.key for piece in kit]))),
            number=draw(st.none() | st.integers(1, 1_000_000)),
        )
        for seconds in sorted(starts)
    )
    return LogFile(dives, kit if dives else (), ())


def written(log):
    """Write a log as UDDF."""

    def element(name, value):
        return "" if value is None else f"<{name}>{value}</{name}>"

    dives, gas = [], {}
    for n, dive in enumerate(log.dives):
        gas[f"g{n}"] = dive.o2_fraction
        site = "<link ref='site'/>" if dive.water else ""
        used = "".join(f"<link ref={quoteattr(key)}/>" for key in dive.kit)
        kelvin = None if dive.min_temp_c is None else f"{dive.min_temp_c + 273.15:.2f}"
        dives.append(
            a_dive(
                when=dive.started_at.isoformat(),
                name=f"d{n}",
                before=site + element("divenumber", dive.number) + f"<equipmentused>{used}</equipmentused>",
                between=f"<tankdata><link ref='g{n}'/></tankdata>",
                after=element("greatestdepth", dive.max_depth_m)
                + element("lowesttemperature", kelvin)
                + element("diveduration", dive.duration_s),
            )
        )
    return uddf(
        *dives,
        kit="".join(f"<regulator id='{x.key}'><name>{escape(x.name)}</name></regulator>" for x in log.kit),
        gas="".join(f"<mix id='{key}'>{element('o2', o2)}</mix>" for key, o2 in gas.items()),
        sites="<site id='site'><environment>ocean-sea</environment></site>",
    )


@drawn(25, 100, logs())
def test_read_log_gives_back_what_was_written(log):
    assert read_log("log.uddf", written(log)) == log
