"""What is kept of a photo: the picture, upright and small, and nothing that the camera or phone wrote beside it."""

import struct
import zlib
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from photos import SECRETS, TURNED, opened, parts_of_jpeg, photo_bytes
from PIL import Image, ImageCms
from sizes import examples

from fleet.parsing.photos import KEPT_BYTES, LARGEST_BYTES, MOST_PIXELS, NoPhoto, picture_to_keep

# tables, frame and coding of a picture, and the head that each JPEG has
OF_THE_PICTURE = {"ffe0", "ffdb", "ffc2", "ffc4"}


@settings(max_examples=examples(15))
@given(
    st.sampled_from(["JPEG", "PNG", "WEBP", "MPO"]),
    st.integers(1, 8),
    st.tuples(st.integers(1, 400), st.integers(1, 400)),
)
def test_whatever_a_phone_hands_over_nothing_is_kept_but_the_picture(kind, orientation, size):
    given_in = photo_bytes(size, orientation, kind)
    assert any(secret in given_in for secret in SECRETS)
    kept = picture_to_keep(given_in)
    assert not [secret for secret in SECRETS if secret in kept]
    assert set(parts_of_jpeg(kept)) <= OF_THE_PICTURE
    picture = opened(kept)
    assert (picture.format, picture.mode, dict(picture.getexif())) == ("JPEG", "RGB", {})
    assert not {"icc_profile", "comment", "xmp", "exif"} & set(picture.info)
    assert picture.size == (size if orientation < 5 else size[::-1])
    assert len(kept) <= KEPT_BYTES


def test_a_photo_that_was_taken_upright_stands_upright():
    """A sensor that lies on its side writes the upper edge as the right one: the dark left half is on top."""
    picture = opened(picture_to_keep(photo_bytes((320, 240), TURNED)))
    assert picture.size == (240, 320)
    top, bottom = picture.getpixel((120, 40)), picture.getpixel((120, 280))
    assert max(top) < 40 and bottom[0] > 200


def test_a_photo_of_a_large_sensor_is_kept_small():
    noise = Image.effect_noise((2400, 1800), 90).convert("RGB")
    out = BytesIO()
    noise.save(out, "JPEG", quality=95)
    assert len(out.getvalue()) > 2_000_000
    kept = picture_to_keep(out.getvalue())
    assert len(kept) <= KEPT_BYTES
    assert max(opened(kept).size) >= 640


def test_colours_of_another_profile_become_those_of_screens():
    """In a profile whose red and blue are exchanged, what is written as red is meant as blue."""
    screens = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    exchanged = screens.replace(b"rXYZ", b"?XYZ").replace(b"bXYZ", b"rXYZ").replace(b"?XYZ", b"bXYZ")
    red, _, blue = opened(picture_to_keep(photo_bytes(icc_profile=exchanged))).getpixel((300, 120))
    assert (red < 40, blue > 200) == (True, True)


def test_a_profile_that_says_nothing_leaves_the_colours_as_they_are():
    red, _, blue = opened(picture_to_keep(photo_bytes(icc_profile=b"no profile at all"))).getpixel((300, 120))
    assert (red > 200, blue < 40) == (True, True)


def test_what_shines_through_stands_on_white():
    out = BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")
    assert min(opened(picture_to_keep(out.getvalue())).getpixel((9, 9))) > 250


def png_chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def bomb(width, height):
    """A PNG of a few hundred bytes that says how many pixels it unpacks to."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    data = zlib.compress(bytes(100_000))
    return b"\x89PNG\r\n\x1a\n" + png_chunk(b"IHDR", head) + png_chunk(b"IDAT", data) + png_chunk(b"IEND", b"")


@pytest.mark.parametrize("side", [int(MOST_PIXELS**0.5) + 1, 30_000, 2**31 - 1])
def test_a_file_that_unpacks_to_too_many_pixels_is_refused_by_its_head(side):
    with pytest.raises(NoPhoto, match=r"more than 64 megapixels\. Add a smaller one\.|damaged"):
        picture_to_keep(bomb(side, side))


REFUSED = {
    "a text": (b"mat,design\nM-1,nine\n", "is not a photo that can be read here. Add a JPEG, PNG or WebP file."),
    "nothing": (b"", "is not a photo that can be read here"),
    "a drawing": (b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", "is not a photo"),
    "a photo of another kind": (photo_bytes(kind="TIFF", icc_profile=None), "is not a photo that can be read here"),
    "HEIC": (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(200), "is a HEIC photo, which cannot be read here. Set"),
    "one that is cut off": (photo_bytes((900, 700))[:2500], "is damaged or cut off. Take the photo again"),
    "one that is too large": (photo_bytes() + bytes(LARGEST_BYTES), "is larger than 10 MB. Add a smaller one."),
}


@pytest.mark.parametrize("what", REFUSED)
def test_what_is_no_photo_is_refused_with_what_to_do(what):
    content, sentence = REFUSED[what]
    with pytest.raises(NoPhoto) as refused:
        picture_to_keep(content)
    assert str(refused.value).startswith(sentence)


@settings(max_examples=examples(60))
@given(st.data())
def test_no_bytes_make_it_fail_otherwise_than_in_words(data):
    whole = photo_bytes((60, 40), kind=data.draw(st.sampled_from(["JPEG", "PNG", "WEBP", "MPO"])))
    broken = bytearray(whole)
    for _ in range(data.draw(st.integers(1, 6))):
        broken[data.draw(st.integers(0, len(broken) - 1))] = data.draw(st.integers(0, 255))
    try:
        kept = picture_to_keep(bytes(broken))
    except NoPhoto:
        return
    assert set(parts_of_jpeg(kept)) <= OF_THE_PICTURE
