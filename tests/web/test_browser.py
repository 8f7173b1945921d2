"""The Bench in Chromium: painting, dragging, keys alone, themes, sizes. No inline anything."""

import json
import os
import re
from pathlib import Path

import pytest

from arteriole import CAUTION
from arteriole.web.keymap import KEYS

pytestmark = pytest.mark.browser
#: Alarm colours of medical devices: hues in degrees that no colour in normal use may have.
ALARM_HUES = ((0, 18), (45, 70), (80, 165), (165, 200), (342, 360))


def settled(page, act, edits=1):
    """Do something that changes the study and wait until the page shows the new numbers."""
    before = int(page.locator("#parts").get_attribute("data-settled") or 0)
    act()
    page.wait_for_function(
        "n => Number(document.getElementById('parts').dataset.settled ?? 0) >= n",
        arg=before + edits,
    )


def drag(page, box, by, steps=4):
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by, y, steps=steps)
    page.mouse.up()


def edits_of(site, study):
    return [e.content["edit"] for e in site.store.events(study.id) if e.kind == "edit"]


def view(page, code):
    return page.evaluate(
        f"() => {{ const v = document.querySelector('trace-view'); return {code}; }}"
    )


def test_dragging_the_rest_window_moves_the_index(bench, site, study):
    before = bench.inner_text("#value-resting_pd_pa")
    box = bench.locator(".tv-body.k-rest").bounding_box()
    settled(bench, lambda: drag(bench, box, 300))

    assert bench.inner_text("#value-resting_pd_pa") != before
    [edit] = edits_of(site, study)
    assert edit["kind"] == "MarkSet"
    assert edit["id"] == "rest@80.0"
    assert edit["mark"]["end_s"] - edit["mark"]["start_s"] == pytest.approx(24.0, abs=0.01)
    settled(bench, lambda: bench.click("#undo"))
    assert bench.inner_text("#value-resting_pd_pa") == before


def test_one_edge_can_be_dragged_and_the_other_stays(bench, site, study):
    box = bench.locator(".tv-grip.k-rest").nth(1).bounding_box()
    settled(bench, lambda: drag(bench, box, 30))
    [edit] = edits_of(site, study)

    assert edit["mark"]["start_s"] == 80.0
    assert edit["mark"]["end_s"] > 108.0


def test_an_injection_notch_can_be_dragged(bench, site, study):
    box = bench.locator(".tv-notch", has_text="R1").bounding_box()
    settled(bench, lambda: drag(bench, box, 5))
    [edit] = edits_of(site, study)

    assert edit["id"] == "injection@135.0"
    assert 136.0 < edit["mark"]["time_s"] < 137.5
    assert bench.locator(".tv-notch").count() == 6


def test_a_whole_review_without_a_mouse(bench, site, study):
    key = bench.keyboard.press
    key("n")
    assert "R1" in bench.evaluate("document.activeElement.textContent")
    key("n")
    key("o")
    bench.keyboard.type("cough")
    settled(bench, lambda: key("Enter"))
    assert bench.locator(".injection.left-out").count() == 1
    assert bench.locator("text=cough").count() == 1

    key("t")
    key("ArrowUp")
    key("ArrowUp")
    key("ArrowRight")
    a, b = view(bench, "v.range")
    assert b - a == pytest.approx(390 * 0.49, rel=0.01)
    key("0")
    while "k-rest" not in bench.evaluate("document.activeElement.className"):
        key("e")
    settled(bench, lambda: key("Shift+ArrowRight"))
    assert edits_of(site, study)[-1]["mark"]["start_s"] == pytest.approx(87.8, abs=0.01)

    key("w")
    assert "Pd/Pa 0." in bench.inner_text(".tv-note")
    key("ArrowRight")
    assert "Pd/Pa 0." in bench.inner_text(".tv-note")
    settled(bench, lambda: key("k"))
    assert edits_of(site, study)[-1]["mark"]["kind"] == "rest"
    for _ in range(2):
        settled(bench, lambda: key("u"))
    settled(bench, lambda: key("r"))

    key("i")
    assert bench.evaluate("document.activeElement.dataset.working") == "resting_pd_pa"
    key("Enter")
    bench.wait_for_selector("#working-body")
    assert "mean Pd / mean Pa" in bench.inner_text("#working")
    assert view(bench, "v.highlights.length") == 1
    key("Escape")
    assert bench.evaluate("document.activeElement.id") == "w-resting_pd_pa"

    key("s")
    assert bench.evaluate("document.activeElement.id") == "sheet-open"
    bench.focus("#f-vessel")
    key("Control+a")
    bench.keyboard.type("RCA")
    settled(bench, lambda: key("Tab"))
    assert "Vessel RCA" in bench.inner_text("#statement")
    bench.evaluate("document.activeElement.blur()")
    key("l")
    bench.wait_for_selector("#ledger")
    assert "cough" in bench.inner_text("#ledger")
    key("g")
    bench.wait_for_selector("#studies")


def test_every_key_on_the_map_does_something(bench):
    names = bench.evaluate("() => import('/static/page.js').then((m) => Object.keys(m.acts))")

    assert {act for _, act, _ in KEYS if act} <= set(names)
    bench.keyboard.press("?")
    assert bench.locator("#keymap").is_visible()
    assert bench.locator("#keymap li").count() == len(KEYS)
    bench.uncheck("#single-keys")
    bench.keyboard.press("Escape")
    bench.keyboard.press("w")
    assert view(bench, "v.measure") is None
    bench.reload()
    bench.wait_for_selector("trace-view[data-painted]")
    bench.keyboard.press("w")
    assert view(bench, "v.measure") is None


def test_wheel_zooms_drag_pans_and_the_rail_follows(bench):
    box = bench.locator(".tv-plot").bounding_box()
    bench.mouse.move(box["x"] + box["width"] / 2, box["y"] + 200)
    bench.mouse.wheel(0, -1200)
    bench.wait_for_function(
        "() => { const [a, b] = document.querySelector('trace-view').range; return b - a < 100; }"
    )
    a, b = view(bench, "v.range")
    assert b - a < 100
    drag(bench, {"x": box["x"] + 500, "y": box["y"] + 200, "width": 0, "height": 0}, -200)
    assert view(bench, "v.range[0]") > a
    rail = bench.locator(".tv-window").bounding_box()
    drag(bench, rail, 300)
    assert view(bench, "v.range[0]") > b
    assert bench.get_attribute(".tv-window", "aria-valuetext").count(":") == 2


LIT = """(t) => {
  const v = document.querySelector('trace-view'), [a, b] = v.range, c = v.canvas;
  const x = Math.round((52 + (t - a) / (b - a) * (v.plot.clientWidth - 78)) * v.ratio);
  const y = Math.round((v.plan.strips[0].top + 12) * v.ratio);
  const px = c.getContext('2d').getImageData(x - 4, y, 9, Math.round(12 * v.ratio)).data;
  let lit = 0;
  for (let i = 0; i < px.length; i += 4) if (px[i + 3] > 60 && Math.abs(px[i] - 128) > 60) lit += 1;
  return lit; }"""


def test_a_wild_sample_stands_in_the_picture_at_any_zoom(bench):
    for a, b in ((0, 390), (250, 350), (298, 302)):
        bench.evaluate("([a, b]) => document.querySelector('trace-view').zoom(a, b)", [a, b])
        bench.wait_for_timeout(250)
        assert bench.evaluate(LIT, 300.0) > 4
        assert bench.evaluate(LIT, 300.0 + 0.1 * (b - a)) <= bench.evaluate(LIT, 300.0)


def test_the_theme_is_kept_and_both_are_readable(bench):
    for _ in range(2):
        bench.keyboard.press("d")
        theme = bench.get_attribute("html", "data-theme")
        assert low_contrast(bench) == []
        bench.reload()
        bench.wait_for_selector("trace-view[data-painted]")
        assert bench.get_attribute("html", "data-theme") == theme


def low_contrast(page):
    """Texts below 4.5:1 against what lies behind them (WCAG 2.2, 1.4.3)."""
    return page.evaluate("""() => {
      const lum = (c) => { const f = c.map((v) => { v /= 255; return v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; });
        return 0.2126 * f[0] + 0.7152 * f[1] + 0.0722 * f[2]; };
      const rgba = (s) => { const n = s.match(/[\\d.]+/g).map(Number); return [n[0], n[1], n[2], n[3] ?? 1]; };
      const behind = (el) => { let out = [0, 0, 0], stack = [];
        for (let e = el; e; e = e.parentElement) stack.push(rgba(getComputedStyle(e).backgroundColor));
        out = stack.pop().slice(0, 3);
        for (const c of stack.reverse()) out = out.map((v, k) => c[3] * c[k] + (1 - c[3]) * v);
        return out; };
      const bad = [];
      for (const el of document.querySelectorAll('body *')) {
        const own = [...el.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
        if (!own || !el.checkVisibility() || el.closest('[disabled], option, svg, .sr, .skip')) continue;
        const a = lum(rgba(getComputedStyle(el).color).slice(0, 3)), b = lum(behind(el));
        const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
        if (ratio < 4.5) bad.push([el.className, el.textContent.slice(0, 30), ratio.toFixed(2)]);
      }
      return bad; }""")  # noqa: E501


def test_alarm_colours_appear_nowhere():
    import colorsys

    folder = Path(__file__).parents[2] / "src" / "arteriole" / "web" / "static"
    colours = {
        c
        for path in folder.glob("*.*")
        for c in re.findall(r"#[0-9a-fA-F]{6}\b", path.read_text("utf-8"))
    }
    loud = []
    for c in colours:
        hue, _, depth = colorsys.rgb_to_hls(*(int(c[k : k + 2], 16) / 255 for k in (1, 3, 5)))
        spread = max(int(c[k : k + 2], 16) for k in (1, 3, 5)) - min(
            int(c[k : k + 2], 16) for k in (1, 3, 5))  # fmt: skip
        if depth > 0.2 and spread > 60 and any(a <= 360 * hue <= b for a, b in ALARM_HUES):
            loud.append(c)
    assert loud == []


@pytest.mark.parametrize(("width", "height"), [(1280, 720), (820, 1180), (390, 844), (3840, 2160)])
def test_nothing_runs_off_the_page_from_tablet_to_wall_screen(bench, site, study, width, height):
    bench.set_viewport_size({"width": width, "height": height})
    for path in (f"/studies/{study.id}", "/", f"/studies/{study.id}/ledger",
                 f"/compare?a={study.id}&b={study.id}"):  # fmt: skip
        bench.goto(site.url + path)
        assert bench.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0


def test_the_caution_is_in_sight_wherever_the_page_is(bench):
    for y in (0, 500, 99_999):
        bench.evaluate(f"scrollTo(0, {y})")
        box = bench.locator("footer.caution").bounding_box()
        assert 0 <= box["y"] <= 800 - box["height"] + 1
    assert bench.inner_text("footer.caution") == CAUTION


def test_tab_walks_the_page_in_its_order_and_can_skip_ahead(bench):
    bench.evaluate("document.activeElement.blur()")
    seen = []
    for _ in range(14):
        bench.keyboard.press("Tab")
        seen.append(bench.evaluate(
            "document.activeElement.id || document.activeElement.className || "
            "document.activeElement.textContent"))  # fmt: skip
    assert seen[0] == "skip"
    assert seen[1] == "brand"
    order = [seen.index(k) for k in ("reader", "language", "theme", "keys-open")]
    assert order == sorted(order)
    ahead = bench.evaluate("""() => { const all = [...document.querySelectorAll('a[href], button, input, select, summary, [tabindex="0"]')]
      .filter((e) => e.checkVisibility()); return all.every((e) => e.tabIndex === 0); }""")  # noqa: E501
    assert ahead


def test_everything_that_can_be_used_has_a_name(bench, site, study):
    for path in (f"/studies/{study.id}", "/", f"/studies/{study.id}/ledger", "/compare"):
        bench.goto(site.url + path)
        bench.wait_for_timeout(200)
        nameless = bench.evaluate("""() => [...document.querySelectorAll('a[href], button, input, select, [role=slider], [role=img], progress')]
          .filter((e) => !(e.getAttribute('aria-label') || e.labels?.length || e.textContent.trim()
            || e.getAttribute('aria-labelledby'))).map((e) => e.outerHTML.slice(0, 90))""")  # noqa: E501
        assert nameless == []
        twice = bench.evaluate("""() => { const ids = [...document.querySelectorAll('[id]')].map((e) => e.id);
          return ids.filter((x, k) => ids.indexOf(x) !== k); }""")  # noqa: E501
        assert twice == []


def test_targets_are_large_enough_to_hit(bench):
    small = bench.evaluate("""() => [...document.querySelectorAll('button, select, a.button, .tv-grip, .tv-notch, header a')]
      .filter((e) => e.checkVisibility()).map((e) => [e, e.getBoundingClientRect()])
      .filter(([, r]) => r.height < 24 || r.width < 24).map(([e, r]) => [e.outerHTML.slice(0, 80), r.width, r.height])""")  # noqa: E501
    assert small == []


def test_axe_finds_no_broken_rule(browser, site, study):
    path = os.environ.get("ARTERIOLE_AXE", "")
    if not Path(path).is_file():
        pytest.skip("axe-core is not at hand; set ARTERIOLE_AXE to its axe.min.js")
    context = browser.new_context(bypass_csp=True, viewport={"width": 1280, "height": 800})
    page = context.new_page()
    broken = []
    page.goto(site.opening())
    for theme in ("dark", "light"):
        context.add_cookies([{"name": "theme", "value": theme, "url": site.url}])
        for where in (f"/studies/{study.id}", "/", f"/studies/{study.id}/ledger", "/compare",
                      f"/studies/{study.id}/letter",
                      f"/studies/{study.id}/working/ffr",
                      f"/compare?a={study.id}&b={study.id}"):  # fmt: skip
            page.goto(site.url + where)
            page.wait_for_timeout(400)
            page.add_script_tag(path=path)
            found = page.evaluate("axe.run({ runOnly: ['wcag2a','wcag2aa','wcag21aa','wcag22aa',"
                                  "'best-practice'] }).then((r) => r.violations)")  # fmt: skip
            broken += [(where, theme, v["id"], v["nodes"][0]["html"][:120]) for v in found]
    context.close()
    assert broken == []


def test_print_leaves_the_paper_to_the_study(bench):
    bench.emulate_media(media="print")

    assert not bench.locator("header nav").is_visible()
    assert bench.locator("footer.caution").is_visible()
    assert bench.locator("#statement").is_visible()


def test_a_dropped_file_with_unclear_columns_is_asked_about(site, tab, tmp_path):
    tab.goto(site.opening())
    odd = tmp_path / "odd.csv"
    odd.write_bytes(b"a;b;c\n1;2;3\n")
    tab.set_input_files("#files", str(odd))
    tab.wait_for_selector("#map[open]")
    assert tab.inner_text("#map-preview th >> nth=0") == "a"
    tab.select_option("#map-pa", "a")
    tab.select_option("#map-pd", "b")
    tab.click("#map-ok")
    tab.wait_for_selector("trace-view[data-painted]")
    tab.refused = 1


def test_a_bad_file_is_answered_on_the_shelf(site, tab, tmp_path):
    tab.goto(site.opening())
    bad = tmp_path / "a.csv"
    bad.write_bytes(b"\0" * 1000)
    tab.set_input_files("#files", str(bad))
    tab.wait_for_selector("#import-note:has-text('zero bytes')")
    tab.refused = 1


def test_cancelling_the_mapping_imports_nothing(site, tab, tmp_path):
    tab.goto(site.opening())
    odd = tmp_path / "odd.csv"
    odd.write_bytes(b"a;b;c\n1;2;3\n")
    tab.set_input_files("#files", str(odd))
    tab.wait_for_selector("#map[open]")
    tab.keyboard.press("Escape")
    tab.wait_for_timeout(300)
    assert site.store.studies() == ()
    tab.refused = 1


def test_two_studies_are_chosen_and_compared(site, tab, tmp_path):
    ids = [site.add(tmp_path, name=f"{k}.csv", rate_hz=100.0 + k).id for k in range(2)]
    tab.goto(site.opening())
    for one in ids:
        tab.check(f"[data-choose='{one}']")
    tab.click("#compare")
    tab.wait_for_selector("#changes")
    assert "within retest noise" in tab.inner_text("#changes")


def test_the_first_measuring_shows_a_waiting_page_that_leads_on(site, tab, study, monkeypatch):
    import time
    from dataclasses import replace

    desk = site.app.state.desk
    slow = desk.conductor.measure

    def measure(recording):
        time.sleep(1.2)
        return slow(recording)

    monkeypatch.setattr(desk, "conductor", replace(desk.conductor, measure=measure))
    tab.goto(site.opening(f"/studies/{study.id}"))
    assert tab.locator("#waiting").is_visible()
    tab.wait_for_selector("trace-view[data-painted]")


def test_the_ledger_undoes_any_line(bench, site, study):
    bench.keyboard.press("s")
    bench.fill("#f-vessel", "RCA")
    settled(bench, lambda: bench.keyboard.press("Tab"))
    bench.goto(f"{site.url}/studies/{study.id}/ledger")
    with bench.expect_navigation():
        bench.click("[data-undo]")
    assert "undone" in bench.inner_text("#ledger")
    assert json.loads(site.app.state.desk.body(site.app.state.desk.open(study.id)))["sheet"][
        "vessel"] == "LAD"  # fmt: skip


def test_two_quick_edits_are_both_kept_in_order(bench, site, study):
    bench.keyboard.press("s")
    settled(bench, lambda: [
        bench.fill("#f-vessel", "RCA"),
        bench.fill("#f-segment", "distal"),
        bench.keyboard.press("Tab"),
    ], edits=2)  # fmt: skip

    assert [e["field"] for e in edits_of(site, study)] == ["vessel", "segment"]


def test_words_being_typed_outlive_the_numbers_drawn_anew(bench, site, study):
    bench.keyboard.press("s")
    bench.fill("#f-vessel", "RCA")
    settled(bench, lambda: (bench.focus("#f-segment"), bench.keyboard.type("x")))

    bench.keyboard.press("Backspace")
    bench.keyboard.press("Home")
    bench.keyboard.press("Shift+End")
    bench.keyboard.type("dis")
    settled(bench, lambda: press_undo(bench))
    assert bench.input_value("#f-vessel") == "LAD"
    assert bench.input_value("#f-segment") == "dis"
    assert bench.evaluate("document.activeElement.id") == "f-segment"
    bench.keyboard.type("tal")
    settled(bench, lambda: bench.keyboard.press("Tab"))

    assert bench.input_value("#f-segment") == "distal"
    last = edits_of(site, study)[-1]
    assert (last["field"], last["value"]) == ("segment", "distal")


def press_undo(page):
    """Undo as a click would, but without taking the focus out of the field."""
    page.evaluate("document.getElementById('undo').click()")


def test_an_edit_behind_one_whose_numbers_never_came_is_kept_too(bench, site, study, tab):
    bench.route("**/parts", lambda route: route.abort())
    bench.keyboard.press("s")
    settled(bench, lambda: (bench.fill("#f-vessel", "RCA"), bench.keyboard.press("Tab")))
    assert "older than your last edit" in bench.inner_text("#stale")
    tab.dropped = 1

    bench.unroute("**/parts")
    settled(bench, lambda: (bench.fill("#f-segment", "distal"), bench.keyboard.press("Tab")))

    assert [e["field"] for e in edits_of(site, study)] == ["vessel", "segment"]
    assert bench.locator("#stale").count() == 0
    assert bench.input_value("#f-vessel") == "RCA"


def test_leaving_out_needs_a_reason(bench, site, study):
    bench.click(".injection button[data-act='leave-out'] >> nth=0")
    bench.click("#reason-ok")
    assert bench.locator("#reason").is_visible()
    bench.keyboard.press("Escape")
    assert edits_of(site, study) == []
