(function () {
  'use strict';
  var root = document.documentElement, slides = document.querySelectorAll('.slide'), begun = null;
  function here() {
    var best = 0;
    for (var i = 0; i < slides.length; i += 1)
      if (slides[i].getBoundingClientRect().top < window.innerHeight / 2) best = i;
    return best;
  }
  function show(number) {
    var slide = slides[Math.max(0, Math.min(slides.length - 1, number))];
    slide.scrollIntoView({ block: 'start' });
    slide.focus({ preventScroll: true });
  }
  root.classList.add('js');
  document.addEventListener('keydown', function (event) {
    var key = event.key;
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    if (key === 'ArrowRight' || key === 'PageDown' || key === ' ' || key === 'Enter') show(here() + 1);
    else if (key === 'ArrowLeft' || key === 'PageUp' || key === 'Backspace') show(here() - 1);
    else if (key === 'Home') show(0);
    else if (key === 'End') show(slides.length - 1);
    else if (key === 'n') root.classList.toggle('with-notes');
    else if (key === 'f' && root.requestFullscreen) root.requestFullscreen();
    else return;
    event.preventDefault();
  });
  document.addEventListener('touchstart', function (event) {
    var touch = event.changedTouches[0];
    begun = [touch.clientX, touch.clientY];
  }, { passive: true });
  document.addEventListener('touchend', function (event) {
    var touch = event.changedTouches[0], x, y;
    if (begun === null) return;
    x = touch.clientX - begun[0];
    y = touch.clientY - begun[1];
    begun = null;
    if (Math.abs(x) > 60 && Math.abs(x) > 2 * Math.abs(y)) show(here() + (x < 0 ? 1 : -1));
  }, { passive: true });
}());
