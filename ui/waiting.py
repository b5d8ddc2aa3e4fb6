"""While something is worked out: how far it is, and a way to stop it. The rest of the page stays usable."""

from __future__ import annotations

import streamlit as st

from ui import session
from ui.jobs import Job
from ui.words import _

_LOOK_EVERY_S = 1.0


def wait_for(job: Job, name: str, words: str) -> None:
    """Progress and Stop; after a stop, a way to begin anew. Draws the page once more when the work ends.

    Parameters
    ----------
    job : Job
        As `session.job` gave it.
    name : str
        Its name there.
    words : str
        A text of the catalogue; blanks `done` and `total`.
    """
    if job.was_stopped and not job.is_running:
        st.info(_("Stopped. Nothing was lost."))
        st.button(_("Work it out again"), key=f"{name}_again", on_click=session.again, args=(name,))
        return

    @st.fragment(run_every=_LOOK_EVERY_S)
    def watching() -> None:
        if not job.is_running:
            st.rerun()
        bar, button = st.columns([4, 1], vertical_alignment="center")
        share = min(1.0, job.done / job.total) if job.total else 0.0
        bar.progress(share, _(words).format(done=job.done, total=job.total or "…"))
        button.button(_("Stop"), key=f"{name}_stop", on_click=job.stop, width="stretch")

    watching()
