//! A figure as a drawing that stands alone: SVG with its own colours on a white ground, with what stands
//! beside it on the page: its title, what its signs mean, its caption, and what the results rest on.

use maud::{Markup, PreEscaped, html};
use roxmltree::Node;

use super::extract::Extract;
use super::light_style::LightStyle;
use super::page_tree::{around, has_class, text, text_without};

/// Room that a figure may take of a slide of 1280 by 720 pixels, and leave some for words.
const MOST_WIDE: f64 = 1120.0;
const MOST_HIGH: f64 = 600.0;
/// So that the smallest letters can be read; a high drawing is then higher than a slide.
const LEAST_SCALE: f64 = 1.05;

/// Around everything.
const MARGIN: f64 = 12.0;
/// Sizes of letters, in units of the drawing, whose own letters have 12.
const TITLE: f64 = 14.0;
const CAPTION: f64 = 11.0;
const BASIS: f64 = 9.0;
/// Height of a line over the size of its letters.
const LINE: f64 = 1.35;
/// About how wide a letter is over its size, in wide fonts, and a bold one.
const LETTER: f64 = 0.56;
const BOLD_LETTER: f64 = 0.64;

/// Size of a sample of how something is drawn.
const SAMPLE_WIDE: f64 = 22.0;
const SAMPLE_HIGH: f64 = 10.0;

/// As the page has them.
const FONTS: &str =
    "'Source Sans 3', 'Noto Sans', 'Segoe UI', Roboto, 'Liberation Sans', Arial, sans-serif";

/// A figure of the page; `basis` tells what the results rest on.
pub(super) fn stand_alone(svg: Node<'_, '_>, style: &LightStyle<'_>, basis: &str) -> Extract {
    let child = |name| svg.children().find(|node| node.has_tag_name(name)).map(text);
    let [title, description] = ["title", "desc"].map(|name| child(name).unwrap_or_default());
    let (width, height) = size(svg);
    let mut sheet = Sheet { width, y: MARGIN, parts: Vec::new() };
    sheet.lines(&title, TITLE, &style.colour("--ink"), true);
    sheet.drawing(height, &inside(svg, style));
    let samples: Vec<Sample> = legends(svg).into_iter().flat_map(|l| samples(l, style)).collect();
    sheet.legend(&samples, &style.colour("--ink"));
    sheet.lines(&caption(svg), CAPTION, &style.colour("--quiet"), false);
    sheet.lines(basis, BASIS, &style.colour("--quiet"), false);
    let content = sheet.finished(&title, &description, &style.colour("--ink"));
    Extract { words: title, content }
}

/// Width and height of the view box.
fn size(svg: Node<'_, '_>) -> (f64, f64) {
    let numbers = svg.attribute("viewBox").unwrap_or_default().split(' ');
    let numbers: Vec<f64> = numbers.filter_map(|number| number.parse().ok()).collect();
    numbers.get(2).copied().zip(numbers.get(3).copied()).unwrap_or((420.0, 250.0))
}

/// What is drawn, with the style of every element as attributes.
fn inside(svg: Node<'_, '_>, style: &LightStyle<'_>) -> Markup {
    html! {
        @for node in svg.children() {
            @if !node.has_tag_name("title") && !node.has_tag_name("desc") { (drawn(node, style)) }
        }
    }
}

fn drawn(node: Node<'_, '_>, style: &LightStyle<'_>) -> Markup {
    if !node.is_element() {
        return html! { (node.text().unwrap_or_default()) };
    }
    let mut attributes: Vec<(String, String)> = node
        .attributes()
        .filter(|own| is_kept(own.name()))
        .map(|own| (own.name().to_owned(), own.value().to_owned()))
        .collect();
    for (name, value) in style.drawn(node) {
        // A style sheet is stronger than an attribute (SVG 1.1, section 6.4).
        attributes.retain(|(own, _)| own != name);
        attributes.push((name.to_owned(), value));
    }
    let name = node.tag_name().name();
    let children: Vec<Markup> = node.children().map(|inner| drawn(inner, style)).collect();
    let (open, close) = (PreEscaped(format!("<{name}")), PreEscaped(format!("</{name}>")));
    html! {
        (open)
        @for (name, value) in &attributes { " " (PreEscaped(name)) (PreEscaped("=\"")) (value) (PreEscaped("\"")) }
        @if children.is_empty() { (PreEscaped("/>")) } @else { (PreEscaped(">")) @for own in &children { (own) } (close) }
    }
}

/// Whether an attribute means something outside of the page.
fn is_kept(name: &str) -> bool {
    let of_page = ["class", "role", "tabindex", "focusable", "style", "href"];
    !of_page.contains(&name) && !["data-", "aria-", "on"].iter().any(|of| name.starts_with(of))
}

/// What explains the signs of a figure: in its frame, and before it in its section.
fn legends<'a, 'input>(svg: Node<'a, 'input>) -> Vec<Node<'a, 'input>> {
    let is_legend = |node: &Node<'_, '_>| has_class(*node, "legend");
    let own = around(svg, "figure").into_iter().flat_map(|figure| figure.descendants());
    let outer = svg.ancestors().take_while(|outer| !outer.has_tag_name("section"));
    let before = outer.filter_map(|outer| outer.prev_siblings().skip(1).find(is_legend));
    let mut found: Vec<Node<'a, 'input>> = own.filter(is_legend).collect();
    found.extend(before.take(1).filter(|one| around(*one, "figure").is_none()));
    found
}

/// A sign with what it means.
struct Sample {
    drawing: Markup,
    words: String,
}

fn samples(legend: Node<'_, '_>, style: &LightStyle<'_>) -> Vec<Sample> {
    let entries = legend.children().filter(|entry| entry.has_tag_name("span"));
    let sample = |entry: Node<'_, '_>| {
        let sign = entry.children().find(|node| matches!(node.tag_name().name(), "i" | "svg"));
        let drawing = sign.map_or_else(|| html! {}, |sign| sign_of(sign, style));
        Sample { drawing, words: text(entry) }
    };
    entries.map(sample).collect()
}

/// A sign of a legend: a drawing, or an empty element with colours of its own.
fn sign_of(sign: Node<'_, '_>, style: &LightStyle<'_>) -> Markup {
    if sign.has_tag_name("svg") {
        let (width, height) = size(sign);
        let scale = (SAMPLE_WIDE / width).min(SAMPLE_HIGH / height);
        return html! { g transform=(format!("scale({scale:.3})")) { (inside(sign, style)) } };
    }
    let value = |property| style.value(sign, property).unwrap_or_else(|| "none".to_owned());
    let dashes = match value("border-style").as_str() {
        "dashed" => Some("3 2"),
        "dotted" => Some("1.5 2"),
        _ => None,
    };
    html! {
        rect x="0.5" y="0.5" width=(SAMPLE_WIDE - 1.0) height=(SAMPLE_HIGH - 1.0) fill=(value("background"))
            stroke=(value("color")) stroke-dasharray=[dashes] {}
    }
}

/// What stands beside the figure: its caption without legend, or the finding that it shows.
fn caption(svg: Node<'_, '_>) -> String {
    let child = |outer: Node<'_, '_>, is: &dyn Fn(Node<'_, '_>) -> bool| {
        outer.children().find(|node| is(*node)).map(|node| text_without(node, "legend"))
    };
    if let Some(figure) = around(svg, "figure") {
        return child(figure, &|node| node.has_tag_name("figcaption")).unwrap_or_default();
    }
    let Some(finding) = around(svg, "finding") else { return String::new() };
    let heading = child(finding, &|node| node.has_tag_name("h3"));
    let remark = child(finding, &|node| has_class(node, "remark"));
    let parts = heading.map(|own| format!("{}.", own.trim_end_matches('.'))).into_iter();
    parts.chain(remark).collect::<Vec<_>>().join(" ")
}

/// The drawing in the making, from top to bottom.
struct Sheet {
    /// Width of the figure, without the margins.
    width: f64,
    /// Where the next part begins.
    y: f64,
    parts: Vec<Markup>,
}

impl Sheet {
    /// A text in as many lines as it takes.
    fn lines(&mut self, text: &str, size: f64, colour: &str, is_bold: bool) {
        let letter = size * if is_bold { BOLD_LETTER } else { LETTER };
        for line in textwrap::wrap(&text.replace('\u{a0}', " "), letters(self.width / letter)) {
            self.y += size;
            self.parts.push(html! {
                text x=(MARGIN) y=(px(self.y)) font-size=(size) fill=(colour)
                    font-weight=[is_bold.then_some("600")] { (line) }
            });
            self.y += (LINE - 1.0) * size;
        }
        self.y += 5.0;
    }

    fn drawing(&mut self, height: f64, inside: &Markup) {
        let place = format!("translate({MARGIN} {})", px(self.y));
        self.parts.push(html! { g transform=(place) { (inside) } });
        self.y += height + 6.0;
    }

    /// Signs with their meaning, as many beside each other as there is room for.
    fn legend(&mut self, samples: &[Sample], colour: &str) {
        let mut x = 0.0;
        for sample in samples {
            let text_width = LETTER * CAPTION * sample.words.chars().count() as f64;
            let width = SAMPLE_WIDE + 6.0 + text_width;
            if x > 0.0 && x + width > self.width {
                (x, self.y) = (0.0, self.y + LINE * CAPTION);
            }
            let place = format!("translate({} {})", px(MARGIN + x), px(self.y + 1.5));
            self.parts.push(html! {
                g transform=(place) { (sample.drawing) }
                text x=(px(MARGIN + x + SAMPLE_WIDE + 6.0)) y=(px(self.y + CAPTION)) font-size=(CAPTION)
                    fill=(colour) { (sample.words) }
            });
            x += width + 14.0;
        }
        if !samples.is_empty() {
            self.y += LINE * CAPTION + 6.0;
        }
    }

    fn finished(self, title: &str, description: &str, colour: &str) -> String {
        let (width, height) = (self.width + 2.0 * MARGIN, self.y + MARGIN - 5.0);
        let scale = (MOST_WIDE / width).min(MOST_HIGH / height).max(LEAST_SCALE);
        let svg = html! {
            (PreEscaped("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"))
            svg xmlns="http://www.w3.org/2000/svg" width=(px(scale * width)) height=(px(scale * height))
                viewBox=(format!("0 0 {} {}", px(width), px(height))) role="img"
                aria-labelledby="title description" font-family=(FONTS) color=(colour) {
                title id="title" { (title) }
                desc id="description" { (description) }
                rect width="100%" height="100%" fill="#ffffff" {}
                @for part in &self.parts { (part) "\n" }
            }
        };
        svg.into_string() + "\n"
    }
}

/// How many whole letters these are.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small and positive")]
fn letters(number: f64) -> usize {
    number.max(1.0) as usize
}

fn px(value: f64) -> String {
    format!("{value:.1}")
}
