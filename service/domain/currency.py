"""Currencies: the codes that a kitchen may keep its prices in, and how many decimals their minor unit has.

A menu price is published to the minor unit: two decimals for most, none for the yen, three for the Kuwaiti dinar.

Source:  ISO 4217, list one (codes in use, funds codes that have a minor unit included; those without one, such as gold
         and the test codes, are no kitchen's currency). Written down from memory of the standard, then compared with
         a published copy of its list of 2026-01-01.
"""

from collections.abc import Mapping
from fractions import Fraction

from service.domain.errors import WrongValue

_TWO_DECIMALS = """
AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF CHE CHF CHW CNY COP
COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD
KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO NOK
NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT
TOP TRY TTD TWD TZS UAH USD USN UYU UZS VED VES WST XAD XCD XCG YER ZAR ZMW ZWG
"""
_DECIMALS_OF_OTHERS = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}

MINOR_UNITS: Mapping[str, int] = {
    **dict.fromkeys(_TWO_DECIMALS.split(), 2),
    **{code: places for places, codes in _DECIMALS_OF_OTHERS.items() for code in codes.split()},
}


def minor_unit(currency: str) -> int:
    """How many decimals the currency's minor unit has.

    Raises:  WrongValue for a code that is not in the list.
    Example: 2 for GBP, 0 for JPY, 3 for KWD, 4 for CLF.
    """
    try:
        return MINOR_UNITS[currency]
    except KeyError:
        raise WrongValue(
            f"{currency!r} is no currency in use in ISO 4217: give its three capital letters, as in EUR, GBP or JPY.",
            currency=currency) from None


def smallest_step(currency: str) -> Fraction:
    """The minor unit as an amount: what a menu price steps by unless the kitchen says otherwise.

    Raises:  WrongValue for a code that is not in the list.
    """
    return Fraction(1, 10 ** minor_unit(currency))
