// What the page holds comes to life.

lesson.takes = [...document.querySelectorAll(".take")].map((box) => new Take(box));
lesson.maps = [...document.querySelectorAll(".map")].map((box) => new Ground(box));
lesson.tubes = [...document.querySelectorAll(".tube")].map((box) => new Tube(box));
document.body.dataset.ready = "yes";
