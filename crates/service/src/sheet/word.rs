//! Words from a fixed set, as the model's enums spell them.

use serde::de::value::{Error, StrDeserializer};
use serde::de::{DeserializeOwned, IntoDeserializer};

/// The member of `T` that `text` names, or the words that are taken.
pub fn parse<T: DeserializeOwned>(text: &str) -> Result<T, String> {
    let deserializer: StrDeserializer<'_, Error> = text.into_deserializer();
    T::deserialize(deserializer).map_err(|error| {
        let message = error.to_string();
        let (_, expected) = message.split_once("expected ").unwrap_or(("", &message));
        expected.trim_start_matches("one of ").replace('`', "")
    })
}

#[cfg(test)]
mod tests {
    use baycast_model::history::{Squeeze, Zone};

    use super::*;

    #[test]
    fn a_wrong_word_is_answered_with_the_right_ones() {
        assert_eq!(parse::<Squeeze>("drips"), Ok(Squeeze::Drips));
        assert_eq!(parse::<Squeeze>("soggy").unwrap_err(), "dry, crumbles, damp, drips");
        assert_eq!(parse::<Zone>("rim").unwrap_err(), "core or edge");
    }
}
