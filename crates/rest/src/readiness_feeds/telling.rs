//! A batch as an entry that people read: headed lists, as plain text and as HTML.

use std::fmt::Write;

use baycast_service::readiness::BatchReadiness;

use super::sentences;

/// Lists of sentences, each under its heading.
pub struct Telling(Vec<(&'static str, Vec<String>)>);

impl Telling {
    /// What is told of a batch.
    pub fn of(batch: &BatchReadiness) -> Self {
        let met = batch.sanitisation_met.iter().map(|rule| format!("{} ({})", rule.explanation, rule.source));
        let doubted = batch.suspect_readings.iter().map(|reading| {
            let reason = super::columns::word(&reading.reason).replace('_', " ");
            format!("{}: {} °C ({reason})", reading.at, reading.temperature_c)
        });
        let lists = [
            ("Windows", batch.windows.iter().map(sentences::window).collect()),
            ("To do", batch.advice.iter().map(sentences::advice).collect()),
            ("Turn", batch.turn.iter().map(sentences::turn).collect()),
            ("The heap on its day", sentences::heap(batch).into_iter().collect()),
            ("Readings meet", met.collect()),
            ("Readings that were doubted", doubted.collect()),
            ("Bear in mind", sentences::cautions().map(str::to_owned).collect()),
        ];
        Self(lists.into_iter().filter(|(_, list): &(_, Vec<String>)| !list.is_empty()).collect())
    }

    /// As plain text.
    pub fn text(&self) -> String {
        let lists = self.0.iter().map(|(heading, list)| format!("{heading}\n- {}\n", list.join("\n- ")));
        lists.collect::<Vec<_>>().join("\n")
    }

    /// As HTML.
    pub fn html(&self) -> String {
        let mut html = String::new();
        for (heading, list) in &self.0 {
            // Writing into a text cannot fail.
            let _ = write!(html, "<h3>{heading}</h3><ul>");
            for sentence in list {
                let _ = write!(html, "<li>{}</li>", quick_xml::escape::partial_escape(sentence));
            }
            html.push_str("</ul>");
        }
        html
    }
}
