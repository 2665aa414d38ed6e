"""Pictures as a tablet's camera takes them, for the tests: tags of our own code, and photos with a place in them."""

import io
import random

import segno
from PIL import Image, ImageFilter
from PIL.TiffImagePlugin import IFDRational


def tag(words, scale=6):
    """The code as it is printed on a label: same error level, same quiet zone."""
    out = io.BytesIO()
    segno.make(words, error="q", micro=False).save(out, kind="png", scale=scale, border=1)
    return Image.open(io.BytesIO(out.getvalue())).convert("RGB")


def on_bench(words, *, angle=0.0, blur=0.0, size=(1200, 900), scale=8, seed=1):
    """A tag lying somewhere on a cluttered bench: chips, marks and half a word round it."""
    rng = random.Random(seed)
    bench = Image.new("RGB", size, (96, 92, 84))
    for _ in range(900):
        x, y, w, h = rng.randrange(size[0]), rng.randrange(size[1]), rng.randrange(4, 60), rng.randrange(2, 14)
        bench.paste((rng.randrange(30, 220),) * 3, (x, y, x + w, y + h))
    code = tag(words, scale)
    label = Image.new("RGB", (code.width + 80, code.height + 80), "white")
    label.paste(code, (40, 40))
    turned = label.convert("RGBA").rotate(angle, expand=True, fillcolor=(0, 0, 0, 0))
    bench.paste(turned, ((size[0] - turned.width) // 2, (size[1] - turned.height) // 2), turned)
    return bench.filter(ImageFilter.GaussianBlur(blur)) if blur else bench


def as_file(image, kind="PNG", **more):
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def photo_with_place(size=(2400, 1800)):
    """A JPEG as a tablet writes it: lying on its side, with the place where it was taken."""
    image = Image.effect_noise(size, 60).convert("RGB")
    image.paste((200, 30, 20), (0, 0, size[0] // 4, size[1] // 4))  # red at what is the upper left as stored
    exif = Image.Exif()
    exif[0x0112] = 6  # turn clockwise to see it upright
    exif[0x010F] = "camera of the shop"
    exif.get_ifd(0x8825).update({1: "N", 2: (IFDRational(51), IFDRational(30), IFDRational(0))})
    return as_file(image, "JPEG", exif=exif.tobytes(), quality=80)


def bomb(pixels=12_000):
    """A small file that unpacks to more than the machine should hold."""
    return as_file(Image.new("L", (pixels, pixels)), "PNG", compress_level=9)
