"""JSON in which numbers keep the digits they were written with: 0.90 stays 0.90."""

import json


class Number(str):
    """The digits of a number."""


def read(text):
    return json.loads(text, parse_float=Number, parse_int=Number)


def text_of(value):
    if isinstance(value, Number):
        return str(value)
    if isinstance(value, dict):
        return "{" + ",".join(json.dumps(k) + ":" + text_of(v) for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ",".join(map(text_of, value)) + "]"
    return json.dumps(value, ensure_ascii=False)
