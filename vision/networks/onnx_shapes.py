"""ONNX files without the sizes of the views that their networks were trained on.

The networks know no length: they are given as many rows as a shaft needs, and as many patches as there are rims. ONNX
Runtime refuses other sizes than the file states, so that these are left out as it is loaded. Wire format: Protocol
Buffers, "Encoding"; field numbers: onnx/onnx.proto of ONNX 1.16.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

_VARINT, _FIXED64, _BYTES, _FIXED32 = 0, 1, 2, 5
# ModelProto.graph; GraphProto.input, .output, .value_info (sizes of what lies between).
_GRAPH, _INPUT, _OUTPUT, _BETWEEN = 7, 11, 12, 13
# ValueInfoProto.type, TypeProto.tensor_type, TypeProto.Tensor.shape.
_TYPE, _TENSOR, _SHAPE = 2, 1, 2


# What becomes of a field's content; None drops the field.
_Change = Callable[[bytes], bytes] | None


def without_shapes(model: bytes) -> bytes:
    """Leave the sizes of inputs, outputs and what lies between out of an ONNX model."""
    return _rewritten(model, {_GRAPH: _graph})


def _graph(graph: bytes) -> bytes:
    return _rewritten(graph, {_INPUT: _value, _OUTPUT: _value, _BETWEEN: None})


def _value(value: bytes) -> bytes:
    return _rewritten(value, {_TYPE: _type})


def _type(kind: bytes) -> bytes:
    return _rewritten(kind, {_TENSOR: lambda tensor: _rewritten(tensor, {_SHAPE: None})})


def _rewritten(message: bytes, changes: Mapping[int, _Change]) -> bytes:
    """Change the contents of some fields of a message, or drop them; all others stay byte for byte."""
    out = bytearray()
    for number, start, content, end in _fields(message):
        change = changes.get(number)
        if number not in changes:
            out += message[start:end]
        elif change is not None:
            changed = change(message[content:end])
            out += _varint_bytes(number << 3 | _BYTES) + _varint_bytes(len(changed)) + changed
    return bytes(out)


def _fields(message: bytes) -> Iterator[tuple[int, int, int, int]]:
    """Give each field's number, where it starts, where its content starts, and where it ends."""
    at = 0
    while at < len(message):
        start = at
        key, at = _varint(message, at)
        content = at
        if key & 7 == _VARINT:
            _, at = _varint(message, at)
        elif key & 7 == _FIXED64:
            at += 8
        elif key & 7 == _FIXED32:
            at += 4
        else:
            length, content = _varint(message, at)
            at = content + length
        yield key >> 3, start, content, at


def _varint(message: bytes, at: int) -> tuple[int, int]:
    value = shift = 0
    while True:
        byte = message[at]
        at += 1
        value |= (byte & 0x7F) << shift
        shift += 7
        if byte < 0x80:
            return value, at


def _varint_bytes(value: int) -> bytes:
    out = bytearray()
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    out.append(value)
    return bytes(out)
