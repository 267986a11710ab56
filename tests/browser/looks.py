"""What every screen must pass, whatever it says: readable by all, at every width, in every language."""

from __future__ import annotations

import re
from importlib.resources import files
from typing import TYPE_CHECKING

from playwright.sync_api import Page, Response

if TYPE_CHECKING:
    from windows import Window

NARROWEST = 320
"""CSS pixels: WCAG 2.2, 1.4.10 Reflow."""

AXE = (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")
# Without script a page has no timers, and axe waits for some of 0 ms. A settled promise does as well.
RUN_AXE = """() => {
    let n = 0;
    window.setTimeout = (f, ms, ...rest) => {
        if (!ms || ms < 100) Promise.resolve().then(() => f(...rest));
        return ++n;
    };
    const only = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
    return axe.run(document, {runOnly: only, resultTypes: ["violations"]}).then((found) => found.violations);
}"""


def axe_findings(page: Page) -> list[str]:
    """Return what axe has to say against the page as it stands, one line a finding."""
    page.evaluate(AXE)
    return [
        f"{found['id']} ({found['impact']}): {found['help']}: {node['html'][:160]} | {node['failureSummary']}"
        for found in page.evaluate(RUN_AXE)
        for node in found["nodes"]
    ]


def assert_readable_by_all(page: Page) -> None:
    findings = axe_findings(page)
    assert not findings, f"{page.url}\n" + "\n".join(findings)


OVERFLOWING = """() => {
    const root = document.documentElement;
    if (root.scrollWidth <= root.clientWidth) return [];
    return [...document.body.querySelectorAll("*")]
        .filter(e => {
            const box = e.getBoundingClientRect();
            return box.width && (box.right > root.clientWidth + 1 || box.left < -1);
        })
        .map(e => e.outerHTML.slice(0, 120));
}"""


def assert_fits(page: Page) -> None:
    """Nothing scrolls sideways, at the page's own width and at the narrowest."""
    size = page.viewport_size
    assert size is not None
    for width in (size["width"], NARROWEST):
        if width != size["width"]:
            page.set_viewport_size({"width": width, "height": size["height"]})
        wide = page.evaluate(OVERFLOWING)
        assert not wide, f"{page.url} at {width} px\n" + "\n".join(wide)
    page.set_viewport_size(size)


SMALL_TARGETS = """() =>
    [...document.querySelectorAll("button, a[href], select, input:not([type=hidden]), summary")]
    .filter(e => {
        const box = e.getBoundingClientRect(), label = e.closest("label");
        const target = label ? label.getBoundingClientRect() : box;
        const inline = e.matches("a") && getComputedStyle(e).display === "inline";
        return box.width > 1 && !inline && target.height < 47.5;
    })
    .map(e => e.outerHTML.slice(0, 120))"""


def assert_fit_for_thumbs(page: Page) -> None:
    small = page.evaluate(SMALL_TARGETS)
    assert not small, f"{page.url}: less than 48 px high\n" + "\n".join(small)


# The text of each block as one: a sentence may have an element in its midst.
VISIBLE_TEXTS = """() => {
    const blocks = new Map(), walk = document.createTreeWalker(document.documentElement, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const node = walk.currentNode;
        let block = node.parentElement;
        if (block.closest("script, style, [data-as-typed], [translate=no]") || !node.data.trim()) continue;
        while (getComputedStyle(block).display.startsWith("inline")) block = block.parentElement;
        blocks.set(block, (blocks.get(block) ?? "") + " " + node.data.trim());
    }
    const texts = [...blocks.values()];
    for (const e of document.querySelectorAll("[aria-label], [title], [alt], [placeholder]"))
        for (const name of ["aria-label", "title", "alt", "placeholder"])
            if (e.getAttribute(name)?.trim() && !e.closest("[translate=no]"))
                texts.push(e.getAttribute(name).trim());
    return texts;
}"""


def untranslated(page: Page, names: tuple[str, ...] = ()) -> list[str]:
    """Return the words on a pseudo-language's page that came from no catalogue.

    Sentences stand in brackets there. What may stand outside them: numbers, dates and hours in the locale's own
    form, and ``names`` that people gave.
    """
    left = []
    for text in page.evaluate(VISIBLE_TEXTS):
        bare = _without_brackets(text)
        for name in sorted(names, key=len, reverse=True):
            bare = bare.replace(name, "")
        bare = re.sub(DATES, "", bare)
        if re.search(r"[^\W\d_]{2,}", bare):
            left.append(text)
    return left


def _without_brackets(text: str) -> str:
    """Return what stands outside every pair of brackets; a sentence may hold another as its value."""
    depth, outside = 0, []
    for letter in text:
        depth += letter == "["
        if depth == 0:
            outside.append(letter)
        depth -= letter == "]"
    return "".join(outside)


DATES = (
    r"\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)[a-z]*\b"
    r"|\b(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]*\b|\bat\b"
    r"|\b\d+ (?:second|minute|hour|day|week|month|year)s?\b"
)


def assert_translated(page: Page, names: tuple[str, ...] = ()) -> None:
    left = untranslated(page, names)
    assert not left, f"{page.url}: no catalogue has\n" + "\n".join(left)


# English may stand where it says that it is English: beside safety text that nobody has reviewed yet.
LATIN_TEXTS = """() => {
    const left = [], walk = document.createTreeWalker(document.documentElement, NodeFilter.SHOW_TEXT);
    const apart = "script, style, [data-as-typed], [translate=no], [lang=en]:not(:root)";
    while (walk.nextNode()) {
        const text = walk.currentNode.data.trim(), e = walk.currentNode.parentElement;
        // Where scripts run, what stands for those who have none is one raw text.
        if (text && !e.matches("noscript") && !e.closest(apart)) left.push(text);
    }
    for (const e of document.querySelectorAll("[aria-label], [title], [alt], [placeholder]"))
        for (const name of ["aria-label", "title", "alt", "placeholder"])
            if (e.hasAttribute(name) && !e.closest(apart)) left.push(e.getAttribute(name).trim());
    return left;
}"""
LATIN_EVERYWHERE = ("logMAR", "mm", "Asia/Singapore")
"""Units, and the name of a time zone as an example."""


def assert_no_english(page: Page, names: tuple[str, ...] = ()) -> None:
    """On a page in another script: no Latin word but names that people gave, and what is Latin everywhere."""
    left = []
    for text in page.evaluate(LATIN_TEXTS):
        bare = text
        for name in sorted((*names, *LATIN_EVERYWHERE), key=len, reverse=True):
            bare = bare.replace(name, "")
        if re.search(r"[A-Za-z]{2,}", bare):
            left.append(text)
    assert not left, f"{page.url}: still in English\n" + "\n".join(dict.fromkeys(left))


TWICE_AS_LARGE = "212.5%"
"""Of the browser's own size; the page's is 106.25 %."""
# A sheet of its own: the page stays as it was sent.
ENLARGE = """percent => {
    const sheet = new CSSStyleSheet();
    if (percent) sheet.replaceSync(`:root { font-size: ${percent} !important; }`);
    document.adoptedStyleSheets = [sheet];
}"""
CLIPPED = """() => {
    const out = [], seen = e => e.getBoundingClientRect();
    for (const e of document.querySelectorAll("body *:not(svg, svg *)")) {
        if (e.closest(".for-ears, .skip") || e.clientWidth < 2) continue;
        if (getComputedStyle(e).display === "inline") continue;
        if (![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())) continue;
        const hidden = getComputedStyle(e).overflowY === "hidden" && e.scrollHeight > e.clientHeight + 4;
        if (hidden || e.scrollWidth > e.clientWidth + 1) out.push(e.outerHTML.slice(0, 140));
    }
    for (const svg of document.querySelectorAll("figure svg")) {
        const sheet = seen(svg), texts = [...svg.querySelectorAll("text")].map(e => [e.textContent, seen(e)]);
        texts.forEach(([words, a], i) => {
            if (a.left < sheet.left - 1 || a.right > sheet.right + 1) out.push(`${words}: beyond the drawing`);
            for (const [other, b] of texts.slice(i + 1))
                if (a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 3 && b.top < a.bottom - 3)
                    out.push(`${words}: over ${other}`);
        });
    }
    return out;
}"""


def assert_nothing_clipped(page: Page) -> None:
    """No word is cut off or lies on another: here and at the narrowest, with text as usual and twice as large."""
    size = page.viewport_size
    assert size is not None
    for width in (size["width"], NARROWEST):
        if width != size["width"]:
            page.set_viewport_size({"width": width, "height": size["height"]})
        for percent in ("", TWICE_AS_LARGE):
            page.evaluate(ENLARGE, percent)
            bad = page.evaluate(CLIPPED) + page.evaluate(OVERFLOWING)
            assert not bad, f"{page.url} at {width} px, text at {percent or '100 %'}\n" + "\n".join(bad)
        page.evaluate(ENLARGE, "")
    page.set_viewport_size(size)


LOADS = re.compile(r"\bon[a-z]+\s*=|<style\b|\sstyle\s*=|javascript:|<script(?![^>]*\bsrc=)", re.IGNORECASE)


def assert_from_here_only(window: Window) -> None:
    """No response came from another origin, none allows inline code, and no page holds any."""
    for response in window.responses:
        assert response.url.startswith((window.site.address, "data:,")), response.url
        _assert_strict(response)


def _assert_strict(response: Response) -> None:
    policy = response.headers.get("content-security-policy", "")
    assert "default-src 'none'" in policy, response.url
    assert not re.search(r"unsafe|nonce-|\*|https?:|data:", policy), f"{response.url}: {policy}"


def assert_no_inline_code(page: Page) -> None:
    text = page.content()
    found = LOADS.search(text)
    assert not found, f"{page.url}: {text[max(found.start() - 80, 0) : found.end() + 80]}"


def assert_well(window: Window, names: tuple[str, ...] = ()) -> None:
    """All of it for the screen that the window shows."""
    page = window.page
    assert_no_inline_code(page)
    assert_readable_by_all(page)
    assert_fit_for_thumbs(page)
    assert_from_here_only(window)
    language = page.evaluate("document.documentElement.lang")
    if language.startswith("en-x-"):
        assert_fits(page)  # an invented language is longer than it need be: twice as large it may not fit
        assert_translated(page, names)
        return
    assert_nothing_clipped(page)
    if language != "en":
        assert_no_english(page, names)
