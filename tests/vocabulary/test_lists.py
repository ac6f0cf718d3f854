"""Components and actions: our lists agree with each other, with the input tables and with the rules."""

from collections import Counter

from fleetlens.vocabulary import actions, components
from fleetlens.vocabulary.tables import tables


def test_components_say_what_people_read() -> None:
    assert components.label("egr_valve") == "EGR valve"
    assert components.system("egr_valve") == "egr"
    assert components.carbon_prone("egr_valve") is True
    assert components.carbon_prone("battery") is False


def test_a_component_outside_our_list_keeps_its_own_name() -> None:
    assert components.label("tow_bar") == "tow_bar"
    assert components.system("tow_bar") is None
    assert components.carbon_prone("tow_bar") is None


def test_every_component_can_be_shown_and_read() -> None:
    known = components.components().values()
    assert len({component.label for component in known}) == len(known)
    for component in known:
        assert component.label
        assert component.system
        assert component.synonyms
        assert set(component.usual_actions) <= set(actions.actions())
    # The same words must not name two components.
    words = Counter(word for component in known for word in set(component.synonyms))
    assert [word for word, times in words.items() if times > 1] == []


def test_actions_are_those_of_the_input_table() -> None:
    (column,) = (column for column in tables()["job_actions"].columns if column.name == "action")
    assert tuple(actions.actions()) == column.allowed


def test_the_rules_name_actions_and_reasons_that_exist() -> None:
    known = actions.actions()
    assert {*actions.REPAIRING, *actions.LIFE_STARTING, *actions.DISABLING} <= set(known)
    assert set(actions.LIFE_STARTING) <= set(actions.REPAIRING)
    assert not set(actions.DISABLING) & set(actions.REPAIRING)
    (reason,) = (column for column in tables()["jobs"].columns if column.name == "reason")
    assert set(actions.FAULT_REASONS) <= set(reason.allowed)


def test_the_effects_on_a_life_agree_with_the_rules() -> None:
    starting = {name for name, action in actions.actions().items() if action.life_effect != "none"}
    assert starting == set(actions.LIFE_STARTING) == set(actions.BEGAN_AS)
    assert {name for name, action in actions.actions().items() if action.life_effect == "renew"} == {"replace"}


def test_work_that_was_not_done_repairs_nothing() -> None:
    done = actions.done_actions()
    assert set(actions.REPAIRING) <= set(done)
    left = {"advise", "quote", "decline", "defer", "negated", "credit", "unstated"}
    assert left == set(actions.actions()) - set(done)
