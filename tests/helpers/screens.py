"""What the tests of the screens share: a page that has come alive, what it looks like, and axe."""

from importlib.resources import files

from playwright.sync_api import TimeoutError

AXE = (files("axe_core_python") / "axe.min.js").read_text(encoding="utf-8")
GRAVE, WCAG = ("serious", "critical"), ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa")
OUTPUTS = ".jp-Notebook .jp-OutputArea-output"

# What of the notebook's outputs reaches beyond its right edge, or over what stands beside it, and
# what scrolls within the page. Boxes to type in may scroll; what is hidden takes no room.
MEASURED = """() => {
  const page = document.querySelector(".jp-WindowedPanel-outer");
  const right = page.getBoundingClientRect().left + page.clientWidth;
  const named = (node) => `${node.localName}.${[...node.classList].join(".")} ` +
    (node.textContent ?? "").trim().slice(0, 40);
  const beyond = [], scrolling = [], over = [];
  for (const side of page.querySelectorAll(".plan-side-by-side > *, .plan-fields > *")) {
    const end = side.getBoundingClientRect().right;
    const wide = [...side.querySelectorAll("*:not(tbody, tbody *, svg *, option)")].find((node) =>
      node.checkVisibility() && node.getBoundingClientRect().right > end + 1);
    if (wide) over.push(named(wide));
  }
  // The lines of a table are as wide as its head.
  const most = "*:not(tbody, tbody *, svg *, option)";
  const outputs = `.jp-OutputArea-output, .jp-OutputArea-output ${most}`;
  for (const node of page.querySelectorAll(outputs)) {
    if (!node.checkVisibility()) continue;
    if (node.getBoundingClientRect().right > right + 1) beyond.push(named(node));
    const {overflowX, overflowY} = getComputedStyle(node);
    const tall = node.scrollHeight > node.clientHeight + 1 && /auto|scroll/.test(overflowY);
    const wide = node.scrollWidth > node.clientWidth + 1 && /auto|scroll/.test(overflowX);
    if ((tall || wide) && !node.matches("input, textarea, select")) scrolling.push(named(node));
  }
  return {beyond, scrolling, over, sideways: page.scrollWidth - page.clientWidth,
    tall: page.scrollHeight};
}"""
IN_VIEW = """(wanted) => {
  const page = document.querySelector(".jp-WindowedPanel-outer").getBoundingClientRect();
  const place = document.querySelector(`.jp-OutputArea-output ${wanted}`)?.getBoundingClientRect();
  return place?.height > 0 && place.top >= page.top && place.bottom <= page.bottom + 1;
}"""
# Each is pressed as it stands; what one opens may hold another.
OPEN_FOLDS = """() => {
  const shut = [...document.querySelectorAll(".plan-fold[aria-expanded=false]")];
  shut.forEach((heading) => heading.click());
  return shut.length;
}"""
# The lines of a table are alike: three of each are looked at.
FOUND_BY_AXE = """async ([within, options]) => {
  const context = {include: [[within]], exclude: [["tbody tr:nth-child(n + 4)"]]};
  const {violations} = await axe.run(context, options);
  const told = (rule, {html, failureSummary}) =>
    ({id: rule.id, impact: rule.impact, html: html.slice(0, 200), failureSummary});
  return violations.flatMap((rule) => rule.nodes.map((node) => told(rule, node)));
}"""


def come_alive(lab, page, notebook):
    """Open a notebook, which runs by itself."""
    page.goto(f"{lab.address}/lab/tree/notebooks/{notebook}?token={lab.token}&reset")
    page.locator(".jp-NotebookPanel[data-life=awake]").wait_for(timeout=60_000)
    lab.calm(page)


def shape_at(page, width, height):
    """How the page is laid out in a window of this size, in CSS pixels."""
    page.set_viewport_size({"width": width, "height": height})
    # The notebook lays itself out anew, frame by frame.
    page.wait_for_timeout(400)
    page.evaluate("document.querySelector('.jp-WindowedPanel-outer').scrollTop = 0")
    return page.evaluate(MEASURED)


def comes_into_view(page, name):
    """Whether this stands whole on the first screen, as soon as its picture is there."""
    try:
        page.wait_for_function(IN_VIEW, arg=name, timeout=5_000)
    except TimeoutError:
        return False
    return True


def found_by_axe(page, *rules):
    """What axe finds grave in the outputs of the page, by these rules of its or by all."""
    if not page.evaluate("Boolean(window.axe)"):
        page.evaluate(AXE)
    options = {"resultTypes": ["violations"], "preload": False}
    options["runOnly"] = list(rules or WCAG)
    found = page.evaluate(FOUND_BY_AXE, [OUTPUTS, options])
    return [finding for finding in found if finding["impact"] in GRAVE]


def open_folds(lab, page):
    """Open everything that is folded away, and wait until it is there."""
    while page.evaluate(OPEN_FOLDS):
        lab.calm(page)


def make_dark(page):
    """Choose JupyterLab's dark theme from its menu."""
    page.get_by_role("menuitem", name="Settings", exact=True).click()
    page.get_by_text("Theme", exact=True).hover()
    page.get_by_text("JupyterLab Dark", exact=True).click()
    page.locator("body[data-jp-theme-light=false]").wait_for(state="attached")
