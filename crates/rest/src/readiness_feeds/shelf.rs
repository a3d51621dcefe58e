//! Forms of farms' readiness at hand, each rendered once for as long as it is true.

use std::sync::{Arc, OnceLock, PoisonError, RwLock};

use baycast_service::Error;
use baycast_service::readiness::Readiness;
use foldhash::HashMap;

use super::form::Form;
use super::rendered::{Dates, Rendered};
use super::value::PLAIN;

/// Most farms whose forms are at hand.
const MOST_FARMS: usize = 1024;

/// The forms at hand, by farm.
#[derive(Debug, Default)]
pub struct Shelf(RwLock<HashMap<String, Arc<Told>>>);

/// A farm as it was told, and what was rendered of it.
#[derive(Debug)]
struct Told {
    farm: Arc<Readiness>,
    dates: Arc<Dates>,
    forms: [OnceLock<Result<Arc<Rendered>, Error>>; Form::COUNT],
}

impl Shelf {
    /// A farm's readiness in a form.
    pub fn form(&self, farm: &Arc<Readiness>, form: Form) -> Result<Arc<Rendered>, Error> {
        let told = self.told(farm);
        let render = || {
            let bytes = form.render(farm)?;
            Ok(Arc::new(Rendered::new(bytes, form.media_type(), told.dates.clone())))
        };
        told.forms[form as usize].get_or_init(render).clone()
    }

    /// A text made of a farm's readiness, which is not worth keeping.
    pub fn text(&self, farm: &Arc<Readiness>, text: String) -> Rendered {
        Rendered::new(text.into_bytes(), PLAIN, self.told(farm).dates.clone())
    }

    /// The place of a farm as it is told. What was rendered stays where it is told anew without a difference.
    fn told(&self, farm: &Arc<Readiness>) -> Arc<Told> {
        let places = self.0.read().unwrap_or_else(PoisonError::into_inner);
        let before = places.get(&farm.farm).cloned();
        drop(places);
        let (dates, forms) = match before {
            Some(before) if Arc::ptr_eq(&before.farm, farm) => return before,
            Some(before) if before.farm == *farm => (before.dates.clone(), before.forms.clone()),
            _ => (Arc::new(Dates::of(farm)), <[_; Form::COUNT]>::default()),
        };
        let told = Arc::new(Told { farm: farm.clone(), dates, forms });
        let mut places = self.0.write().unwrap_or_else(PoisonError::into_inner);
        if places.len() >= MOST_FARMS && !places.contains_key(&farm.farm) {
            // Rendering them again costs less than keeping count of who was asked for when.
            places.clear();
        }
        places.insert(farm.farm.clone(), told.clone());
        told
    }
}
