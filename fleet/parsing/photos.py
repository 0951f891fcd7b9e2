"""Photos as phones make them, read as the pictures that are kept: upright, small, and without what they hide."""

from contextlib import suppress
from io import BytesIO
from threading import Lock

from PIL import Image, ImageCms, ImageOps

MIB = 2**20
LARGEST_BYTES = 10 * MIB
KEPT_BYTES = 300 * 1000
# A phone of 50 megapixels still; unpacked, these take a quarter of a gigabyte.
MOST_PIXELS = 64 * 10**6
READ = {"image/jpeg": "JPEG", "image/png": "PNG", "image/webp": "WEBP"}
# long side in pixels with the quality of JPEG, the first that is small enough is kept; the last always is
STEPS = [(side, quality) for side in (1600, 1280, 1024, 800, 640) for quality in (82, 70, 58, 45)]
HEIC = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
WHITE = (255, 255, 255)
FEW_COLOURS = ("1", "P", "PA")
# our own bound is lower than the one at which Pillow stops, and without its warning below it
Image.MAX_IMAGE_PIXELS = None
# one at a time: several large ones together would take the memory of a small computer
_one_at_a_time = Lock()


class NoPhoto(ValueError):
    """Why these bytes are not taken, and what to do, as a sentence goes on after the name of their file."""


def picture_to_keep(content):
    """The bytes of a JPEG of at most KEPT_BYTES: upright, in sRGB, with nothing but the picture in it.

    What `content` is called makes no difference. NoPhoto where it is no photo that can be read whole.
    """
    if len(content) > LARGEST_BYTES:
        raise NoPhoto(f"is larger than {LARGEST_BYTES // MIB} MB. Add a smaller one.")
    if content[4:8] == b"ftyp" and content[8:12] in HEIC:
        raise NoPhoto("is a HEIC photo, which cannot be read here. Set the camera to JPEG, or save it as a JPEG first.")
    with _one_at_a_time:
        return _small_enough(_upright(content))


def _upright(content):
    try:
        photo = Image.open(BytesIO(content), formats=list(READ.values()))
        _refuse_huge(photo)
        return _in_srgb(_turned(_decoded(photo)))
    except NoPhoto:
        raise
    except Image.UnidentifiedImageError:
        raise NoPhoto("is not a photo that can be read here. Add a JPEG, PNG or WebP file.") from None
    except Exception as error:
        # what hostile bytes make a decoder raise stands in no list
        raise NoPhoto("is damaged or cut off. Take the photo again, or add another one.") from error


def _refuse_huge(photo):
    """Only the head is read by then."""
    if photo.width * photo.height > MOST_PIXELS:
        raise NoPhoto(f"has more than {MOST_PIXELS // 10**6} megapixels. Add a smaller one.")


def _decoded(photo):
    """As large as anything that is kept of it; of a large JPEG the finest pixels are never unpacked."""
    if photo.mode in FEW_COLOURS:
        photo = photo.convert("RGBA" if photo.has_transparency_data else "RGB")
    photo.thumbnail((STEPS[0][0], STEPS[0][0]))
    return photo


def _turned(photo):
    """As its camera was held; where the camera said nonsense about that, as it is stored."""
    with suppress(Exception):
        return ImageOps.exif_transpose(photo)
    return photo


def _in_srgb(photo):
    """On white, in the colours of screens; a profile that cannot be used is left out."""
    if photo.has_transparency_data:
        photo = photo.convert("RGBA")
        photo = Image.alpha_composite(Image.new("RGBA", photo.size, WHITE), photo)
        photo.info.pop("icc_profile", None)
    if profile := photo.info.get("icc_profile"):
        with suppress(Exception):
            its_own = ImageCms.ImageCmsProfile(BytesIO(profile))
            return ImageCms.profileToProfile(photo, its_own, ImageCms.createProfile("sRGB"), outputMode="RGB")
    return photo.convert("RGB")


def _small_enough(photo):
    for side, quality in STEPS:
        written = _written(photo, side, quality)
        if len(written) <= KEPT_BYTES:
            break
    return written


def _written(photo, side, quality):
    """Pixels alone go over into the new picture: what Pillow remembers of the old one, it would write again."""
    bare = Image.new("RGB", photo.size)
    bare.paste(photo)
    bare.thumbnail((side, side))
    out = BytesIO()
    bare.save(out, "JPEG", quality=quality, optimize=True, progressive=True)
    return out.getvalue()
