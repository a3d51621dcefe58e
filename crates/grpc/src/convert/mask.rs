//! Which fields an update changes.

use baycast_model::problem::Problems;
use baycast_service::Error;
use baycast_service::pointer::Pointer;
use prost_types::FieldMask;

use crate::proto;

/// The path that stands for all fields.
const ALL: &str = "*";

/// The fields that an update names; none where it changes those that it sets.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mask(Option<Vec<String>>);

impl Mask {
    /// The mask of a farm's update.
    pub fn of_farm(message: Option<FieldMask>) -> Result<Self, Error> {
        Self::of(message, &["name", "site", "time_zone", "barrow_m3"])
    }

    /// The mask of a bay's update.
    pub fn of_bay(message: Option<FieldMask>) -> Result<Self, Error> {
        Self::of(message, &["bay", "position"])
    }

    /// The mask of a feedstock's update.
    pub fn of_feedstock(message: Option<FieldMask>) -> Result<Self, Error> {
        Self::of(message, &["feedstock"])
    }

    /// The mask of a batch's update.
    pub fn of_batch(message: Option<FieldMask>) -> Result<Self, Error> {
        Self::of(message, &["name", "start_bay", "horizon_days", "forecast_step_days", "criteria"])
    }

    /// The mask of a webhook's update.
    pub fn of_webhook(message: Option<FieldMask>) -> Result<Self, Error> {
        Self::of(message, &["url", "kinds", "moved_days", "best_by_days", "state"])
    }

    /// The mask, whose paths must be among `fields`.
    fn of(message: Option<FieldMask>, fields: &[&str]) -> Result<Self, Error> {
        let paths = message.map(|FieldMask { paths }| paths).unwrap_or_default();
        let mut problems = Problems::default();
        let root = Pointer::Root.member("update_mask");
        let list = root.member("paths");
        for (index, path) in paths.iter().enumerate() {
            if path != ALL && !fields.contains(&path.as_str()) {
                let accepted = format!("one of {}, {ALL}", fields.join(", "));
                problems.add(list.element(index), baycast_model::check::quoted(path), accepted);
            }
        }
        problems.into_result().map_err(Error::Invalid)?;
        Ok(Self((!paths.is_empty()).then_some(paths)))
    }

    /// The farm as it is to be.
    pub fn farm(&self, now: proto::Farm, new: proto::Farm) -> proto::Farm {
        let proto::Farm { id, name, site, time_zone, barrow_m3, etag, archived } = new;
        proto::Farm {
            id,
            name: self.pick("name", name, now.name),
            site: self.pick("site", site, now.site),
            time_zone: self.pick("time_zone", time_zone, now.time_zone),
            barrow_m3: self.pick("barrow_m3", barrow_m3, now.barrow_m3),
            etag,
            archived,
        }
    }

    /// The bay as it is to be. One whose values are not to change still has the id to be found by.
    pub fn bay(&self, now: proto::FarmBay, new: proto::FarmBay) -> proto::FarmBay {
        let proto::FarmBay { bay, position, etag, archived } = new;
        let only_named = bay
            .as_ref()
            .is_some_and(|bay| *bay == proto::Bay { id: bay.id.clone(), ..proto::Bay::default() });
        let bay = if only_named && self.0.is_none() { None } else { bay };
        proto::FarmBay {
            bay: self.pick("bay", bay, now.bay),
            position: self.pick("position", position, now.position),
            etag,
            archived,
        }
    }

    /// The feedstock as it is to be.
    pub fn feedstock(&self, now: proto::FarmFeedstock, new: proto::FarmFeedstock) -> proto::FarmFeedstock {
        let proto::FarmFeedstock { feedstock, etag, archived } = new;
        proto::FarmFeedstock { feedstock: self.pick("feedstock", feedstock, now.feedstock), etag, archived }
    }

    /// The batch as it is to be.
    pub fn batch(&self, now: proto::Batch, new: proto::Batch) -> proto::Batch {
        let proto::Batch {
            id,
            name,
            start_bay,
            horizon_days,
            forecast_step_days,
            criteria,
            event_version,
            last_event,
            etag,
            archived,
        } = new;
        proto::Batch {
            id,
            name: self.pick("name", name, now.name),
            start_bay: self.pick("start_bay", start_bay, now.start_bay),
            horizon_days: self.pick("horizon_days", horizon_days, now.horizon_days),
            forecast_step_days: self.pick("forecast_step_days", forecast_step_days, now.forecast_step_days),
            criteria: self.pick("criteria", criteria, now.criteria),
            event_version,
            last_event,
            etag,
            archived,
        }
    }

    /// The webhook as it is to be.
    pub fn webhook(&self, now: proto::Webhook, new: proto::Webhook) -> proto::Webhook {
        let proto::Webhook {
            id,
            url,
            kinds,
            moved_days,
            best_by_days,
            state,
            disabled_at,
            disabled_because,
            created_at,
            created_by,
            etag,
        } = new;
        proto::Webhook {
            id,
            url: self.pick("url", url, now.url),
            kinds: self.pick("kinds", kinds, now.kinds),
            moved_days: self.pick("moved_days", moved_days, now.moved_days),
            best_by_days: self.pick("best_by_days", best_by_days, now.best_by_days),
            state: self.pick("state", state, now.state),
            disabled_at,
            disabled_because,
            created_at,
            created_by,
            etag,
        }
    }

    /// `new` where the field is to change, else `now`.
    fn pick<T: Default + PartialEq>(&self, field: &str, new: T, now: T) -> T {
        let changes = match &self.0 {
            None => new != T::default(),
            Some(paths) => paths.iter().any(|path| path == ALL || path == field),
        };
        if changes { new } else { now }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mask(paths: &[&str]) -> FieldMask {
        FieldMask { paths: paths.iter().map(|path| (*path).to_owned()).collect() }
    }

    fn farm(name: &str, barrow_m3: Option<f64>) -> proto::Farm {
        proto::Farm { name: name.to_owned(), barrow_m3, ..proto::Farm::default() }
    }

    #[test]
    fn named_fields_change_even_to_nothing_and_others_stay() {
        let now = farm("old", Some(0.1));
        let picked =
            |paths: Option<FieldMask>, new: proto::Farm| Mask::of_farm(paths).unwrap().farm(now.clone(), new);
        assert_eq!(picked(Some(mask(&["barrow_m3"])), farm("new", None)), farm("old", None));
        assert_eq!(picked(Some(mask(&["*"])), farm("new", None)), farm("new", None));
        assert_eq!(picked(None, farm("new", None)), farm("new", Some(0.1)));
        assert_eq!(picked(Some(mask(&[])), farm("", Some(0.2))), farm("old", Some(0.2)));
    }

    #[test]
    fn a_path_that_is_no_field_to_change_is_named() {
        let Err(Error::Invalid(Problems(problems))) = Mask::of_batch(Some(mask(&["name", "etag"]))) else {
            panic!("`etag` is no field to change");
        };
        assert_eq!(problems[0].pointer, "/update_mask/paths/1");
        assert!(problems[0].accepted.contains("start_bay"), "{}", problems[0].accepted);
    }
}
