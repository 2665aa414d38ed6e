"""How long it takes to lay out the cutting of jaws: placing, ring and bore, and the whole answer.

Run by hand: ``python bench/boring.py``.  Medians after one warm-up; the target is for geometry alone.
"""

from __future__ import annotations

from run import ROOT, median_seconds, ms

EXAMPLES = ("wear-ring", "gland-flange", "winch-shaft")


def rows() -> list[tuple[str, str, str]]:
    from heldtrue.planning.boring import bore, bore_of
    from heldtrue.planning.elastic import forget
    from heldtrue.planning.inputs import prepare
    from heldtrue.planning.jaw_layout import lay_out
    from heldtrue.planning.setup import Setup
    from heldtrue.planning.study import Study

    found = []
    for name in EXAMPLES:
        setup = Setup.from_toml(ROOT / "examples" / f"{name}.toml")
        job, study = prepare(setup), Study.of(setup)
        bore_of(study)

        def geometry(job=job) -> None:
            lay_out(job).design(0.0)

        def whole(setup=setup) -> None:
            forget()
            bore(setup)

        found += [
            (f"placing, ring and bore: {name}", ms(median_seconds(geometry)), "100 ms"),
            (f"the same with taper, pressure and steps, part and jaw known: {name}",
             ms(median_seconds(lambda study=study: bore_of(study))), ""),
            (f"the same from nothing: {name}", ms(median_seconds(whole, 3)), ""),
        ]  # fmt: skip
    return found


def main() -> None:
    for what, measured, target in rows():
        print(f"{what:75} {measured:>9} {target:>8}")


if __name__ == "__main__":
    main()
