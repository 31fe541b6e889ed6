"""Data URIs after RFC 2397 and RFC 4648."""

from __future__ import annotations

import pytest

from tidegate.load.data_uri import data_uri_head, data_uri_mime, decode_data_uri, is_data_uri


@pytest.mark.parametrize(
    ("uri", "wanted"),
    [
        ("data:,A%20brief%20note", b"A brief note"),  # RFC 2397 section 4
        ("data:text/plain;charset=utf-8,a,b", b"a,b"),
        ("data:;base64,Zm9vYmFy", b"foobar"),  # RFC 4648 section 10
        ("data:;base64,Zm9vYg==", b"foob"),
        ("data:;base64,Zm9vYg", b"foob"),
        ("data:;base64,Zm9v%59g%3D%3D", b"foob"),
        ("DATA:image/png;BASE64,Zm9v\nYmFy", b"foobar"),
        ("data:;base64,", b""),
    ],
)
def test_decoded(uri: str, wanted: bytes) -> None:
    assert is_data_uri(uri)
    assert decode_data_uri(uri) == wanted


@pytest.mark.parametrize("uri", ["data:image/png;base64", "data:;base64,Z", "data:;base64,Zm9v!", "data:;base64,Zm€v"])
def test_refused(uri: str) -> None:
    with pytest.raises(ValueError, match=r"comma|Base64"):
        decode_data_uri(uri)


def test_head_and_mime() -> None:
    uri = "data:Image/PNG;charset=x;base64,AAAA"
    assert data_uri_head(uri) == "data:Image/PNG;charset=x;base64,"
    assert data_uri_mime(uri) == "image/png"
    assert data_uri_mime("data:,x") == ""
    assert not is_data_uri("database/iron.png")
