"""The code on a jaw tag, out of pictures good and bad, and where a number leads."""

import asyncio
import time

import pytest
from nicegui.elements.upload_files import SmallFileUpload
from PIL import Image

from heldtrue.errors import InputError
from heldtrue.records import JawSet, Tag
from heldtrue.web import texts
from heldtrue.web.shelf import photos
from heldtrue.web.shelf.scan import code_in
from web.in_process import taken_in, until
from web.pictures import as_file, bomb, on_bench, tag
from web.test_pages import only, typed


async def handed(user, mark, content, name="p.jpg", kind="image/jpeg"):
    """As a picture comes from the browser."""
    await only(user, mark).handle_uploads([SmallFileUpload(name, kind, content)])
    await taken_in()


def test_the_code_as_it_is_printed():
    assert code_in(as_file(tag("J-031"))) == "J-031"


@pytest.mark.parametrize("angle", [7, 45, 90, 133, 180, 271])
def test_turned_on_a_cluttered_bench(angle):
    assert code_in(as_file(on_bench("T-00012", angle=angle))) == "T-00012"


@pytest.mark.parametrize("blur", [1.0, 2.0, 3.0])
def test_out_of_focus(blur):
    assert code_in(as_file(on_bench("Ring set / 7", angle=12, blur=blur), "JPEG", quality=60)) == "Ring set / 7"


def test_small_in_a_large_picture():
    assert code_in(as_file(on_bench("J-031", size=(4000, 3000), scale=8), "JPEG")) == "J-031"


def test_nothing_in_it():
    with pytest.raises(InputError, match="No code was found"):
        code_in(as_file(on_bench("x").crop((0, 0, 300, 300))))


def test_two_tags_in_one_picture_are_asked_back():
    both = on_bench("J-1", size=(1600, 700))
    both.paste(on_bench("J-2", size=(800, 700)), (800, 0))
    left = on_bench("J-1", size=(800, 700))
    both.paste(left, (0, 0))
    with pytest.raises(InputError, match="J-1, J-2"):
        code_in(as_file(both))


@pytest.mark.parametrize("content", [b"not a picture", b"", b"\x89PNG\r\n\x1a\n" + b"\0" * 40, b"<svg xmlns='x'/>",
                                     b"GIF89a" + b"\0" * 60])  # fmt: skip
def test_no_picture(content):
    with pytest.raises(InputError, match="no picture"):
        code_in(content)


def test_half_a_picture():
    whole = as_file(on_bench("J-1"), "JPEG")
    with pytest.raises(InputError, match="no picture"):
        code_in(whole[: len(whole) // 3])


@pytest.mark.parametrize("pixels", [8_000, 11_000, 14_000])
def test_a_bomb_is_not_unpacked(pixels, monkeypatch):
    content = bomb(pixels)
    assert len(content) < photos.MEGA
    monkeypatch.setattr("PIL.ImageFile.ImageFile.load", lambda *_: pytest.fail("it was unpacked"))
    with pytest.raises(InputError, match="million points"):
        code_in(content)


WHOLE = [("PNG", "RGB", {}), ("PNG", "P", {}), ("PNG", "I;16", {}), ("WEBP", "RGB", {"lossless": True}),
         pytest.param("JPEG", "CMYK", {"progressive": True}, marks=pytest.mark.long)]  # fmt: skip


@pytest.mark.parametrize(("kind", "mode", "more"), WHOLE)
def test_what_is_unpacked_whole_may_have_fewer_points(kind, mode, more, monkeypatch):
    edge = int(photos.MOST_WHOLE_PIXELS**0.5)
    content = as_file(Image.new(mode, (edge + 1, edge + 1)), kind, **more)
    within = as_file(Image.new(mode, (edge, edge)), kind, **more)
    assert max(photos.opened(within, 220).size) == 220
    monkeypatch.setattr("PIL.ImageFile.ImageFile.load", lambda *_: pytest.fail("it was unpacked"))
    with pytest.raises(InputError, match="16 million are the most"):
        photos.opened(content, 220)


def test_pictures_are_unpacked_one_at_a_time_and_a_crowd_is_sent_away():
    at_once, most = [], []

    def work():
        at_once.append(1)
        most.append(len(at_once))
        time.sleep(0.02)
        at_once.pop()

    async def crowd():
        return await asyncio.gather(*(photos.in_turn(work) for _ in range(40)), return_exceptions=True)

    refused = [one for one in asyncio.run(crowd()) if isinstance(one, InputError)]
    assert max(most) == 1
    assert len(refused) == 40 - photos.MOST_WAITING - 1
    assert asyncio.run(photos.in_turn(lambda: 7)) == 7


@pytest.mark.parametrize(("turn", "corner"), [(1, (0, 0)), (3, (1, 1)), (6, (1, 0)), (8, (0, 1))])
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_picture_stands_upright_whichever_way_the_tablet_was_held(kind, turn, corner):
    image = Image.new("RGB", (400, 300), "white")
    image.paste("black", (0, 0, 200, 150))
    exif = Image.Exif()
    exif[0x112] = turn
    made = photos.opened(as_file(image, kind, exif=exif), 200)
    assert made.mode == "RGB"
    assert made.size == ((200, 150) if turn in (1, 3) else (150, 200))
    x, y = (10 if side == 0 else length - 10 for side, length in zip(corner, made.size, strict=True))
    assert made.getpixel((x, y))[0] < 60


def test_too_many_bytes():
    with pytest.raises(InputError, match="larger than 12 MB"):
        code_in(b"\xff" * (photos.LARGEST_PICTURE + 1))


def test_a_picture_of_a_tag_leads_to_its_set(visit):
    async def steps(user, desk):
        desk.store.write(JawSet(id="J/31 a", style="pie", material="16MnCr5"), by="Noor")
        await user.open("/shelf")
        await handed(user, "scan-upload", as_file(on_bench("J/31 a", angle=30), "JPEG"))
        await user.should_see("cuts left")
        await user.should_see("not cut yet")

    visit(steps)


def test_a_typed_number_leads_there_too(visit):
    async def steps(user, desk):
        desk.store.write(JawSet(id="J-31", style="pie", material="16MnCr5"), by="Noor")
        await user.open("/scan")
        await typed(user, "scan-number", "  J-31 ")
        user.find(marker="scan-number").trigger("keydown.enter")
        await user.should_see("not cut yet")

    visit(steps)


def test_what_is_no_picture_is_said_in_words(visit):
    async def steps(user, desk):
        await user.open("/scan")
        await handed(user, "scan-upload", b"plain text", "tag.png", "image/png")
        await user.should_see(texts.NO_PICTURE)
        await handed(user, "scan-file-upload", as_file(tag("x").crop((0, 0, 8, 8))))
        await user.should_see(texts.NO_CODE)

    visit(steps)


def test_a_blank_label_is_linked_to_a_set(visit):
    async def steps(user, desk):
        desk.store.write(JawSet(id="J-31", style="pie", material="16MnCr5"), Tag(id="T-00001"), by="Noor")
        await user.open("/scan/T-00001")
        await user.should_see(texts.LABEL_FREE.format(id="T-00001"))
        await typed(user, "name", "Noor")
        await typed(user, "link-set", "J-99")
        user.find(marker="link").click()
        await user.should_see("there is no jaw set J-99")
        assert desk.store.get(Tag, "T-00001").jaw_set is None
        await typed(user, "link-set", "J-31")
        user.find(marker="link").click()
        await until(lambda: desk.store.get(Tag, "T-00001").jaw_set == "J-31")
        await user.open("/scan/T-00001")
        await user.should_see("not cut yet")

    visit(steps)


def test_a_number_nobody_knows_becomes_a_new_set_and_its_label_with_it(visit):
    async def steps(user, desk):
        desk.store.write(Tag(id="T-00002"), by="Noor")
        await user.open("/scan/T-00002")
        await typed(user, "new-name", "Ilse")
        await typed(user, "new-material", "16MnCr5")
        user.find(marker="add-set").click()
        await user.should_see(texts.ON_SHELF.format(set="T-00002"))
        assert desk.store.get(JawSet, "T-00002").material == "16MnCr5 case-hardening steel"
        assert desk.store.get(Tag, "T-00002").jaw_set == "T-00002"
        await user.open("/scan/Q-7")
        await user.should_see(texts.UNKNOWN_CODE.format(id="Q-7"))
        await user.should_not_see(texts.LINK_LABEL)

    visit(steps)


def test_the_guard_lets_a_picture_through_to_an_open_page_alone(visit):
    async def steps(user, desk):
        await user.open("/scan")
        large = b"x" * 3_000_000
        refused = await user.http_client.post("/api/plan", content=large)
        assert refused.status_code == 413
        address = only(user, "scan-upload").props["url"]
        taken = await user.http_client.post(address, files={"p": ("p.jpg", large, "image/jpeg")})
        assert taken.status_code == 200
        await user.should_see(texts.NO_PICTURE)
        refused = await user.http_client.post(address, files={"p": ("p.jpg", b"x" * 21_000_000, "image/jpeg")})
        assert refused.status_code == 413

    visit(steps)
