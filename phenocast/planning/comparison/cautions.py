"""What to know of a film before choosing it, in the order of weight."""

from __future__ import annotations

from phenocast.forecast.advice import is_reflective
from phenocast.parameters import ParameterSet, film_water
from phenocast.season.schema import is_metallised

FALLBACK = "white-on-black"


def film_cautions(
    film: ParameterSet, *, water_ph: float | None = None, shoulder: ParameterSet | None = None
) -> tuple[str, ...]:
    """Return what a grower should know before laying a film.

    Parameters
    ----------
    film : ParameterSet
        Of a striped film, the stripe.
    water_ph : float, optional
        pH of the water that is given overhead or sprayed; None where not known.
    shoulder : ParameterSet, optional
        Film beside the stripe.

    Examples
    --------
    >>> from phenocast.parameters import films
    >>> film_cautions(films()["black"])[0][:40]
    'black film: the surface at the planting '
    >>> any("pH 9.2" in text for text in film_cautions(films()["metallised"], water_ph=9.2))
    True
    """
    told: list[str] = []
    if is_metallised(film):
        told += _metal(film.name, water_ph)
    transmittance = film.value("solar_transmittance")
    if is_reflective(film) and film.name != "bare-soil":
        told.append(
            f"{film.name}: a reflective bed is cooler in winter too; in one trial fruit on white "
            "film was a fifth below that on black (0.56 against 0.69 lb a plant, mean of 15 "
            "cultivars)" + (", a stripe less so than a whole film" if shoulder is not None else "")
        )
        told.append(
            f"{film.name}: glare into the eyes of people who work on it; give eye protection"
        )
    elif transmittance < 0.5 and film.value("solar_reflectance") < 0.1:
        told.append(
            f"{film.name} film: the surface at the planting hole can reach 50 to 60 degC in a warm "
            "autumn and girdle stems: wider or wet holes, evening planting, overhead water or a "
            "light film help"
        )
    elif transmittance >= 0.5:
        told.append(f"{film.name}: weeds grow under a film that lets light through")
    if film.name != "bare-soil":
        told.append(
            f"{film.name}: lay it tight: hot air is pumped out of the holes of a loose film"
        )
        told.append(_disposal(film))
    return tuple(told)


def _metal(name: str, water_ph: float | None) -> list[str]:
    limits = film_water()
    low, high, strong, fading = (
        limits.value(name) for name in ("ph_lowest", "ph_highest", "ph_strong", "ph_fading")
    )
    told = []
    if water_ph is None:
        told.append(
            f"{name}: state the water's pH (sprinkling.water_ph): overhead water above pH "
            f"{fading:g} fades aluminium coats (common practice, no source); their oxide lasts "
            f"between about pH {low:g} and {high:g}"
        )
    elif water_ph > strong:
        told.append(
            f"{name}: STRONG CAUTION: overhead water of pH {water_ph:g} dissolves aluminium above "
            f"about pH {strong:g}; treat the water or take {FALLBACK}"
        )
    elif water_ph > high or water_ph < low:
        told.append(
            f"{name}: overhead water of pH {water_ph:g} is outside about pH {low:g} to {high:g}, "
            f"where aluminium's oxide lasts; the coat will fade: treat the water or take {FALLBACK}"
        )
    elif water_ph > fading:
        told.append(
            f"{name}: overhead water of pH {water_ph:g} is above {fading:g}, from which "
            f"aluminium coats are seen to fade (common practice, no source; published limits of "
            f"the oxide are wider, to about {high:g})"
        )
    told += [
        f"{name}: chloride and traces of copper, as from copper sprays, pit aluminium at any pH",
        f"{name}: stiffer than plain film: harder to lay tight, and it tears at the holes",
        f"{name}: where it is too dear, too stiff or fades, {FALLBACK} is the fallback",
    ]
    return told


def _disposal(film: ParameterSet) -> str:
    if is_metallised(film):
        return f"{film.name}: cannot be recycled with plain polyethylene; ask how it is disposed of"
    return f"{film.name}: plan its removal and disposal; soil on the film makes recycling dear"
