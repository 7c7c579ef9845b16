"""``optimiser why`` from the maker's side."""

import json

import pytest

BAR = "scenarios/bar.toml"
BAND = "band/hard butter/min"


def test_reasons_are_told_rule_by_rule_and_price_by_price(run, workspace):  # noqa: ARG001
    told = run("why", BAR, "--full")
    assert (told.code, told.err) == (0, "")
    assert told.out.startswith("Why: Plain massage bar\n")
    for head in (
        "WHAT EACH RULE COSTS AS ITS LIMIT MOVES",
        "INGREDIENTS THAT ARE IN",
        "OTHER FORMULAS",
    ):
        assert head in told.out
    assert f"hard butter at least 40 % [{BAND}]" in told.out
    assert "cocoa butter, 40 %: no price drives it out" in told.out


def test_reasons_say_that_they_are_told_without_steps(run, workspace):
    assert "without its steps" not in run("why", BAR).out
    bar = workspace / BAR
    text = bar.read_text(encoding="utf-8")
    bar.write_text(f"{text}\n[amounts]\nstep = 0.5\n", encoding="utf-8")
    told = " ".join(run("why", BAR).out.split())
    assert "Its steps of 0.5 % cost " in told
    assert "All else is without steps." in told


def test_reasons_are_data_too(run, workspace):  # noqa: ARG001
    told = run("why", BAR, "--json")
    data = json.loads(told.out)
    assert (told.code, data["status"], data["title"]) == (
        0,
        "answered",
        "Plain massage bar",
    )
    assert BAND in [rule["id"] for rule in data["rules"]]
    assert {each["ingredient"] for each in data["used"]} == {
        "cocoa_butter",
        "shea_butter",
        "beeswax",
        "sunflower_oil",
    }
    assert data["unused"] == []


def test_one_rule_is_told_with_every_step_and_how_it_ends(run, workspace):  # noqa: ARG001
    told = run("why", BAR, "--rule", BAND)
    assert told.code == 0
    assert told.out.startswith("hard butter at least 40 %\n")
    assert "COST AT EVERY STEP" in told.out
    assert "WITH EVERYTHING CHOSEN ANEW" not in told.out
    assert "INGREDIENTS THAT ARE IN" not in told.out


def test_a_rule_is_found_by_the_key_it_was_written_under(run, workspace):  # noqa: ARG001
    by_id, by_key = (
        run("why", BAR, "--rule", name) for name in (BAND, "bands.hard butter.min")
    )
    assert by_key.code == 0
    assert by_key.out == by_id.out


def test_a_curve_stops_where_it_is_asked_to(run, workspace):  # noqa: ARG001
    told = run("why", BAR, "--rule", BAND, "--from", 38, "--to", 43, "--json")
    (curve,) = json.loads(told.out)["curves"]
    limits = [point["limit"] for point in curve["points"]]
    assert (told.code, limits[0], limits[-1]) == (0, 38.0, 43.0)
    assert (curve["low_end"], curve["high_end"]) == ("as asked", "as asked")
    whole = run("why", BAR, "--rule", BAND, "--json")
    (curve,) = json.loads(whole.out)["curves"]
    limits = [point["limit"] for point in curve["points"]]
    assert limits[0] < 38.0
    assert limits[-1] > 43.0


@pytest.mark.parametrize("way", ["--from", "--to"])
def test_a_curve_may_stop_at_the_limit_as_it_is(run, workspace, way):  # noqa: ARG001
    told = run("why", BAR, "--rule", BAND, way, 40, "--json")
    (curve,) = json.loads(told.out)["curves"]
    limits = [point["limit"] for point in curve["points"]]
    assert (told.code, limits[0 if way == "--from" else -1]) == (0, 40.0)
    assert len(limits) > 1


def test_each_step_is_chosen_anew_where_that_is_asked_for(run, workspace):  # noqa: ARG001
    told = run("why", BAR, "--rule", BAND, "--again")
    assert told.code == 0
    assert "WITH EVERYTHING CHOSEN ANEW" in told.out
    plain, anew = (
        json.loads(run("why", BAR, "--rule", BAND, "--json", *more).out)["again"]
        for more in ((), ("--again",))
    )
    assert plain == []
    assert anew
    assert all(each["aims"][0]["aim"] == "cost" for each in anew)


def test_a_near_tie_is_within_the_part_that_is_asked_for(run, workspace):  # noqa: ARG001
    none, some = (
        json.loads(run("why", BAR, "--near", part, "--json").out)["ties"]
        for part in (0, 25)
    )
    assert none == []
    (tie,) = some
    assert tie["within"] == pytest.approx(0.25)
    assert tie["distance"] >= 5.0


@pytest.mark.parametrize(
    ("options", "wrong"),
    [
        (("--again",), "--again, --from and --to go with --rule"),
        (("--from", "38"), "--again, --from and --to go with --rule"),
        (("--to", "43"), "--again, --from and --to go with --rule"),
        (("--near", "-1"), "should be greater than or equal to 0"),
        (("--from", "low", "--rule", BAND), "should be a valid number"),
    ],
)
def test_options_that_do_not_go_together_are_refused(run, workspace, options, wrong):  # noqa: ARG001
    told = run("why", BAR, *options)
    assert (told.code, told.out) == (2, "")
    assert wrong in " ".join(told.err.replace("│", " ").split())


@pytest.mark.parametrize(
    ("options", "wrong"),
    [
        (
            ("--rule", "band/hard buter/min"),
            f"is no rule of this scenario; the nearest known names are {BAND},",
        ),
        (("--rule", "total"), "has no price curve"),
        (("--rule", BAND, "--from", "41"), "leaves out the limit as it is, 40"),
        (("--rule", BAND, "--to", "39"), "leaves out the limit as it is, 40"),
        (("--rule", BAND, "--to", "nan"), "is no limit that this rule could have"),
        (("--rule", BAND, "--to", "101"), "is no limit that this rule could have"),
        (("--rule", BAND, "--from", "-1"), "is no limit that this rule could have"),
    ],
)
@pytest.mark.parametrize("scenario", [BAR, "scenarios/clash.toml"])
def test_a_rule_or_a_span_that_cannot_be_is_told(
    run,
    workspace,  # noqa: ARG001
    scenario,
    options,
    wrong,
):
    told = run("why", scenario, *options)
    assert (told.code, told.out) == (1, "")
    assert wrong in " ".join(told.err.split())
    assert f"option {options[-2]}: '{options[-1]}'" in " ".join(told.err.split())


def test_a_scenario_that_is_not_there_is_told(run, workspace):  # noqa: ARG001
    told = run("why", "scenarios/nowhere.toml")
    assert (told.code, told.out) == (1, "")
    assert "nowhere.toml" in told.err


@pytest.mark.parametrize("rule", [(), ("--rule", BAND)])
def test_rules_that_clash_are_told_as_by_formulate(run, workspace, rule):  # noqa: ARG001
    told = run("why", "scenarios/clash.toml", *rule)
    formulated = run("formulate", "scenarios/clash.toml")
    assert (told.code, formulated.code) == (3, 3)
    assert "cocoa butter at most 10 %" in told.out
    assert told.out.splitlines()[:5] == formulated.out.splitlines()[:5]
    data = json.loads(run("why", "scenarios/clash.toml", *rule, "--json").out)
    assert data["status"] == "clash"


@pytest.mark.usefixtures("workspace")
def test_a_rule_is_known_by_a_name_that_is_its_alone(run):
    named = run("why", "scenarios/massage_bar.toml", "--rule", "mixed tocopherols")
    assert named.code == 1
    assert "names 2 rules" in named.err
    assert "pin/mixed tocopherols, practice/mixed tocopherols/max" in named.err
    alone = run("why", "scenarios/massage_bar.toml", "--rule", "Cetyl Alcohol")
    by_id = run(
        "why", "scenarios/massage_bar.toml", "--rule", "practice/cetyl alcohol/max"
    )
    assert alone == by_id
    assert alone.code == 0


@pytest.mark.usefixtures("workspace")
def test_a_rule_that_is_not_there_is_answered_with_those_that_are(run):
    told = run("why", "scenarios/massage_bar.toml", "--rule", "zinc")
    assert "name one of band/hard butter/min, band/hard butter/max" in told.err
