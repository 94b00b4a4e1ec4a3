"""Allergens of dishes on the wire: of one with the ways that bring them in, and of the menu."""

from service.domain.allergen_lists import ALLERGENS
from service.domain.allergen_paths import AllergenState
from service.rest.comma_lists import CommaList
from service.rest.fields.choices import Choice, Flag, OneOf
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import Whole
from service.rest.fields.texts import Code, Name, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer
from service.rest.schemas.cutting_sheets import CautionAnswer
from service.rest.schemas.records import ListQuery, PageAnswer, PositionQuery


def _named() -> CommaList:
    return CommaList(OneOf(ALLERGENS), most=len(ALLERGENS), metadata=says("Only these allergens are told; all unless "
                                                                          "given."))


class DishAllergensQuery(PositionQuery):
    """Which allergens of a dish."""

    allergen = _named()


class MenuAllergensQuery(ListQuery):
    """Which allergens of which dishes."""

    allergen = _named()
    section = Text(max=60, metadata=says("Only this part of the menu; empty: dishes of which none is said."))
    state = CommaList(Choice(AllergenState), most=len(AllergenState), metadata=says(
        "Only dishes of which an allergen told is in one of these states."))


class AllergenStepAnswer(Answer):
    """A record on the way from a dish down to an ingredient."""

    kind = Text(metadata=says("dish, recipe, cut, breakdown or ingredient."))
    code = Code(metadata=says("Its code."))
    name = Text(metadata=says("What the kitchen calls it; its code where it is not in force."))


class BroughtInAnswer(AllergenStepAnswer):
    """An ingredient that declares the allergen."""

    path = Several(Group(AllergenStepAnswer), metadata=says("A shortest way, from the dish to the ingredient."))


class NotDeclaredAnswer(AllergenStepAnswer):
    """What nobody can say the allergens of."""

    reason = Text(metadata=says(
        "declares_nothing: the ingredient's allergens are null; not_in_force: it is named and does not stand that day. "
        "More may come."))
    path = Several(Group(AllergenStepAnswer), metadata=says("A shortest way to it, from the dish."))


class AllergenAnswer(Answer):
    """One allergen in one dish."""

    allergen = Text(metadata=says("The word that ingredients declare it by. More may come."))
    name = Text(metadata=says("Its name."))
    lists = Several(Text(), metadata=says("The codes of the lists that it is on."))
    state = Text(metadata=says(
        "contains: an ingredient below declares it. related_declared: none does, but one declares `related`. unknown: "
        "neither, and something below declares nothing, which is not none. none_declared: all below have declared, and "
        "none declares it. More may come."))
    related = Text(allow_none=True, metadata=says("The other list's word that means some of the same."))
    ingredients = Whole(metadata=says("How many ingredients bring it in."))
    brought_in_by = Several(Group(BroughtInAnswer), metadata=says("Those ingredients, the shortest ways first."))
    more = Whole(metadata=says("How many of them are not told here."))


class AllergenListAnswer(Answer):
    """A published list of allergens."""

    list_code = Text(data_key="list", metadata=says("Its code here."))
    name = Text(metadata=says("What it is."))
    source = Text(metadata=says("Where it stands."))
    allergens = Several(Text(), metadata=says("The words that stand for its entries."))


class _OfADish(Answer):
    """Whose allergens they are."""

    dish = Code(metadata=says("The dish's code."))
    name = Name(metadata=says("As the menu has it."))
    section = Text(metadata=says("The part of the menu it stands in; empty: not said."))
    pos_code = Text(allow_none=True, metadata=says("The dish's code in the POS."))
    allergens_complete = Flag(metadata=says("False: something below it declares nothing: not none."))


class DishAllergensAnswer(_OfADish):
    """What a dish contains, and by which way."""

    as_of = Day(metadata=says("The day that it is of."))
    revision = Whole(metadata=says("As known at this revision."))
    allergens = Several(Group(AllergenAnswer), metadata=says("Every allergen of the lists, or those asked for."))
    not_declared = Several(Group(NotDeclaredAnswer), metadata=says("What below it declares nothing."))
    more_not_declared = Whole(metadata=says("How many of them are not told here."))
    lists = Several(Group(AllergenListAnswer), metadata=says("The published lists."))
    cautions = Several(Group(CautionAnswer), metadata=says("What to mind."))


class MenuAllergensRow(_OfADish):
    """What can be said of one dish: each allergen told stands in one of the four lists."""

    contains = Several(Text(), metadata=says("Declared by something below it."))
    related_declared = Several(Text(), metadata=says("Not declared, but the other list's word for some of the same."))
    unknown = Several(Text(), metadata=says("Not known: something below declares nothing. Not none."))
    none_declared = Several(Text(), metadata=says("All below have declared, and none declares it."))
    allergens_not_declared = Several(Text(), metadata=says("What declares nothing."))


class MenuAllergensPage(PageAnswer):
    """A page of the menu's allergens."""

    data = Several(Group(MenuAllergensRow), metadata=says("By code of the dish."))
    lists = Several(Group(AllergenListAnswer), metadata=says("The published lists."))
    cautions = Several(Group(CautionAnswer), metadata=says("What to mind."))
