"""Photos as phones make them, and what stands in the files that are kept of them."""

from io import BytesIO

from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image, ImageCms

from fleet.models import FaultPhoto
from fleet.models.photos import photo_file_name

# what a camera writes beside the picture: held upright, turned to the left; where it was
UPRIGHT, TURNED = 1, 6
ORIENTATION, MAKER, GPS = 0x0112, 0x010F, 0x8825
PROFILE = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()  # names the second in which it was made
SECRETS = (b"Exif", b"GPS", b"Ostrava", b"Pocketlens", b"ICC_PROFILE", b"http://ns.adobe.com/xap")


def photo_bytes(size=(320, 240), orientation=UPRIGHT, kind="JPEG", colour="red", **values):
    """A picture whose left half is dark, with everything that a camera hides in it."""
    picture = Image.new("RGB", size, colour)
    picture.paste("black", (0, 0, size[0] // 2, size[1]))
    exif = picture.getexif()
    exif[ORIENTATION], exif[MAKER] = orientation, "Pocketlens of Ostrava"
    exif.get_ifd(GPS).update({1: "N", 2: (49.0, 50.0, 6.0), 3: "E", 4: (18.0, 17.0, 33.0)})
    values = {"exif": exif, "icc_profile": PROFILE, **({"comment": b"Ostrava"} if kind == "JPEG" else {}), **values}
    out = BytesIO()
    picture.save(out, kind, **values)
    return out.getvalue()


def photo_file(name="IMG_1.jpg", content=None, **values):
    return SimpleUploadedFile(name, photo_bytes(**values) if content is None else content, "image/jpeg")


def make_pictures():
    """A picture for every photo that is named, so that pages show it; not the one by whose hash it is called."""
    for photo in FaultPhoto.objects.all():
        storages["photos"].save(photo_file_name(photo.sha256), ContentFile(photo_bytes((40, 30))))


def opened(content):
    return Image.open(BytesIO(content))


def parts_of_jpeg(content):
    """The marks of the parts before the picture itself: FFE0 is that of every JPEG, FFE1 Exif, FFE2 a profile."""
    marks, at = [], 2
    while content[at : at + 2] != b"\xff\xda":
        marks.append(content[at : at + 2].hex())
        at += 2 + int.from_bytes(content[at + 2 : at + 4], "big")
    return marks
