// What the page holds comes to life.

lesson.stages = [...document.querySelectorAll(".stage")].map((box) => new Stage(box));
lesson.maps = [...document.querySelectorAll(".map")].map((box) => new Ground(box));
lesson.tubes = [...document.querySelectorAll(".tube")].map((box) => new Tube(box));
document.body.dataset.ready = "yes";
