//! A drawing as SVG: text stays text, and colours follow whether the reader's screen is light or dark.

use std::fmt::Write;

/// A point, pixels from the upper left.
pub type Point = (f64, f64);

/// Width of a letter, pixels: the widest of the fonts named, on average.
const LETTER: f64 = 7.4;

/// Colours and strokes: a class each, dark screens second.
const STYLE: &str = "\
text{font:13px system-ui,-apple-system,'Segoe UI','DejaVu Sans',sans-serif;fill:#24292f}\
.title{font-size:16px;font-weight:600}\
.quiet{fill:#57606a}\
.card{fill:#fff;stroke:#d0d7de}\
.behind{fill:#fff}\
.grid{stroke:#d8dee4;stroke-width:1}\
.today{stroke:#57606a;stroke-width:1;stroke-dasharray:2 3}\
.before{fill:#0969da;fill-opacity:.16}\
.before-line{fill:none;stroke:#0969da;stroke-width:2;stroke-dasharray:7 4}\
.before-middle{stroke:#0969da;stroke-width:3}\
.after{fill:#bc4c00;fill-opacity:.3}\
.after-line{fill:none;stroke:#bc4c00;stroke-width:2}\
.after-middle{stroke:#bc4c00;stroke-width:3}\
.reading{fill:#24292f;stroke:#fff;stroke-width:1}\
.doubted{fill:#fff;stroke:#24292f;stroke-width:1.5}\
.addition{fill:#57606a}\
@media(prefers-color-scheme:dark){\
text{fill:#e6edf3}\
.quiet{fill:#9198a1}\
.card{fill:#0d1117;stroke:#3d444d}\
.behind{fill:#0d1117}\
.grid{stroke:#2a313c}\
.today{stroke:#9198a1}\
.before{fill:#58a6ff;fill-opacity:.28}\
.before-line,.before-middle{stroke:#58a6ff}\
.after{fill:#f0883e;fill-opacity:.36}\
.after-line,.after-middle{stroke:#f0883e}\
.reading{fill:#f0f6fc;stroke:#0d1117}\
.doubted{fill:#0d1117;stroke:#f0f6fc}\
.addition{fill:#9198a1}\
}";

/// Where a text stands from its point.
#[derive(Clone, Copy, Debug)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

impl Anchor {
    fn name(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Middle => "middle",
            Self::End => "end",
        }
    }
}

/// A drawing under way.
pub struct Drawing {
    body: String,
    width: f64,
    height: f64,
}

impl Drawing {
    /// An empty card.
    pub fn new(width: f64, height: f64) -> Self {
        let mut drawing = Self { body: String::new(), width, height };
        drawing.element(&format!(
            "rect class=\"card\" x=\"0.5\" y=\"0.5\" width=\"{}\" height=\"{}\" rx=\"6\"",
            width - 1.0,
            height - 1.0
        ));
        drawing
    }

    fn element(&mut self, inside: &str) {
        writeln!(self.body, "<{inside}/>").expect("a string takes it");
    }

    /// A straight line.
    pub fn line(&mut self, class: &str, (x1, y1): Point, (x2, y2): Point) {
        self.element(&format!(
            "line class=\"{class}\" x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\""
        ));
    }

    /// Straight lines from point to point.
    pub fn path(&mut self, class: &str, points: impl Iterator<Item = Point>) {
        self.element(&format!("path class=\"{class}\" d=\"{}\"", through(points)));
    }

    /// What lies between points, back to the first.
    pub fn area(&mut self, class: &str, points: impl Iterator<Item = Point>) {
        self.element(&format!("path class=\"{class}\" d=\"{}Z\"", through(points)));
    }

    /// An upright rectangle between two corners.
    pub fn bar(&mut self, class: &str, (left, top): Point, (right, bottom): Point) {
        let (width, height) = (right - left, bottom - top);
        self.element(&format!(
            "rect class=\"{class}\" x=\"{left:.1}\" y=\"{top:.1}\" width=\"{width:.1}\" height=\"{height:.1}\""
        ));
    }

    /// A dot.
    pub fn dot(&mut self, class: &str, (x, y): Point) {
        self.element(&format!("circle class=\"{class}\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3.5\""));
    }

    /// Text on its baseline.
    pub fn text(&mut self, class: &str, anchor: Anchor, (x, y): Point, text: &str) {
        let (anchor, text) = (anchor.name(), escaped(text));
        writeln!(
            self.body,
            "<text class=\"{class}\" x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\">{text}</text>"
        )
        .expect("a string takes it");
    }

    /// Text that lines pass behind.
    pub fn label(&mut self, class: &str, anchor: Anchor, (x, y): Point, text: &str) {
        let width = LETTER * text.chars().count() as f64;
        let left = match anchor {
            Anchor::Start => x,
            Anchor::Middle => x - width / 2.0,
            Anchor::End => x - width,
        };
        self.bar("behind", (left - 3.0, y - 13.0), (left + width + 3.0, y + 4.0));
        self.text(class, anchor, (x, y), text);
    }

    /// The whole, with what it is called and what it says in words.
    pub fn finish(self, title: &str, description: &str) -> String {
        let Self { body, width, height } = self;
        let (title, description) = (escaped(title), escaped(description));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" \
             height=\"{height}\" role=\"img\" aria-labelledby=\"title description\">\n\
             <title id=\"title\">{title}</title>\n<desc id=\"description\">{description}</desc>\n\
             <style>{STYLE}</style>\n{body}</svg>\n"
        )
    }
}

fn through(points: impl Iterator<Item = Point>) -> String {
    let mut path = String::new();
    for (index, (x, y)) in points.enumerate() {
        let command = if index == 0 { 'M' } else { 'L' };
        write!(path, "{command}{x:.1} {y:.1}").expect("a string takes it");
    }
    path
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}
