//! The Atom feed: an entry for each batch (RFC 4287).

use std::io;

use baycast_service::readiness::{BatchReadiness, Readiness};
use quick_xml::events::{BytesDecl, BytesText, Event};
use quick_xml::writer::Writer;

use super::identity::uuid;
use super::rendered::changed_at;
use super::sentences;
use super::telling::Telling;

/// Namespace of its elements (section 2).
const NAMESPACE: &str = "http://www.w3.org/2005/Atom";

/// The whole feed.
pub fn atom(farm: &Readiness) -> io::Result<Vec<u8>> {
    let mut xml = Writer::new(Vec::new());
    xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("utf-8"), None)))?;
    let feed = [("xmlns", NAMESPACE), ("xml:lang", "en")];
    xml.create_element("feed").with_attributes(feed).write_inner_content(|xml| {
        text(xml, "id", &format!("urn:uuid:{}", uuid("farm", &[&farm.farm])))?;
        text(xml, "title", &title(farm))?;
        text(xml, "updated", &format!("{:.0}", changed_at(farm)))?;
        xml.create_element("author").write_inner_content(|xml| text(xml, "name", "baycast"))?;
        text(xml, "generator", "baycast")?;
        let own = [("rel", "self"), ("type", "application/atom+xml"), ("href", "readiness.atom")];
        xml.create_element("link").with_attributes(own).write_empty()?;
        farm.batches.iter().try_for_each(|batch| entry(xml, farm, batch))
    })?;
    Ok(xml.into_inner())
}

/// What a farm's feed is called.
pub fn title(farm: &Readiness) -> String {
    let name = if farm.name.is_empty() { &farm.farm } else { &farm.name };
    format!("{name}: compost readiness")
}

fn entry(xml: &mut Writer<Vec<u8>>, farm: &Readiness, batch: &BatchReadiness) -> io::Result<()> {
    xml.create_element("entry").write_inner_content(|xml| {
        text(xml, "id", &format!("urn:uuid:{}", uuid("batch", &[&farm.farm, &batch.batch])))?;
        text(xml, "title", &sentences::headline(batch))?;
        text(xml, "updated", &format!("{:.0}", batch.changed_at))?;
        let html = shown(&Telling::of(batch).html());
        let content = xml.create_element("content").with_attribute(("type", "html"));
        content.write_text_content(BytesText::new(&html)).map(drop)
    })?;
    Ok(())
}

fn text(xml: &mut Writer<Vec<u8>>, element: &str, text: &str) -> io::Result<()> {
    xml.create_element(element).write_text_content(BytesText::new(&shown(text))).map(drop)
}

/// Text of characters that XML can hold (XML 1.0 section 2.2); names may have two that it cannot.
fn shown(text: &str) -> String {
    text.replace(['\u{fffe}', '\u{ffff}'], "\u{fffd}")
}
