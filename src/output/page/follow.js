'use strict';
// Asks again and again whether the job was saved, and opens the page anew where it was left. It stands only in the page
// that is served.
(() => {
  const panel = document.getElementById('preview');
  const news = document.getElementById('news');
  const details = panel.querySelector('details');
  const buttons = () => [...document.querySelectorAll('.play')];
  const often = 400;
  const seldom = 3000;

  /** What would be lost by opening the page anew: how far it is scrolled, what is open, which line is played. */
  const keep = () => {
    const played = buttons().find((button) => button.getAttribute('aria-pressed') === 'true');
    const kept = { y: window.scrollY, open: Boolean(details && details.open), played: played && played.value };
    sessionStorage.setItem('kept', JSON.stringify(kept));
  };
  const restore = () => {
    const kept = JSON.parse(sessionStorage.getItem('kept') || 'null');
    sessionStorage.removeItem('kept');
    if (!kept) return;
    const played = buttons().find((button) => button.value === kept.played);
    if (played) played.click();
    if (details) details.open = kept.open;
    // What went wrong stands at the top. A browser goes to its own place once all is there.
    const place = document.getElementById('unusable') ? 0 : kept.y;
    history.scrollRestoration = 'manual';
    window.addEventListener('load', () => window.scrollTo(0, place));
  };

  let asking = false;
  const ask = async () => {
    if (asking) return;
    asking = true;
    try {
      const state = await (await fetch('/state')).json();
      if (state.mark !== panel.dataset.mark) {
        keep();
        location.reload();
        return;
      }
      news.textContent = state.busy ? 'Saved; the page is being made anew …' : '';
    } catch (fault) {
      news.textContent = 'The preview has ended; this page stands as it was.';
    }
    asking = false;
  };
  const again = async () => {
    await ask();
    setTimeout(again, document.hidden ? seldom : often);
  };
  document.addEventListener('visibilitychange', () => {
    if (!document.hidden) ask();
  });
  restore();
  again();
})();
