"""Moments as a person reads them: in the time zone of this machine, with its name. No clock is read here."""

from datetime import datetime, timedelta


def local_time(label: str, to: str = "%H:%M") -> str:
    """``2026-03-02 18:12 CET`` for an ISO 8601 moment with its offset; a text that is none stays as it is.

    ``to``: as ``strftime`` has it, where minutes are not fine enough.
    """
    try:
        moment = datetime.fromisoformat(label)
    except ValueError:
        return label
    if moment.tzinfo is None:
        return label
    return f"{moment.astimezone():{f'%Y-%m-%d {to}'}} {_zone(moment)}"


def end_time(now: str, least_s: float, most_s: float) -> str:
    """When it ends that lasts ``least_s`` to ``most_s`` seconds more, seen from the moment ``now`` (ISO 8601, offset).

    ``18:42 CET``, ``18:42 to 19:20 CET``, ``23:40 to tomorrow 00:20 CET``, ``2026-03-04 02:10 CET``; to the minute.
    """
    today = datetime.fromisoformat(now).astimezone().date()
    first, last = (
        (datetime.fromisoformat(now) + timedelta(seconds=seconds + 30)).astimezone() for seconds in (least_s, most_s)
    )

    def day(moment: datetime) -> str:
        days = (moment.date() - today).days
        return {0: "", 1: "tomorrow "}.get(days, f"{moment:%Y-%m-%d} ")

    end = f"{day(last) if day(last) != day(first) else ''}{last:%H:%M} {_zone(last)}"
    if f"{first:%Y-%m-%d %H:%M}" == f"{last:%Y-%m-%d %H:%M}":
        return day(last) + end
    zone = "" if _zone(first) == _zone(last) else f" {_zone(first)}"
    return f"{day(first)}{first:%H:%M}{zone} to {end}"


def _zone(moment: datetime) -> str:
    name = moment.astimezone().strftime("%Z")
    return name if name.isalpha() else f"UTC{name}"  # zones without letters have their offset for a name
