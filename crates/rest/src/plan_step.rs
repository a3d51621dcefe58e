//! Two kinds of steps in the description: that of a plan, and that of a future, which has the name `Step` since the first
//! version of the contract.

use utoipa::PartialSchema;
use utoipa::openapi::{OpenApi, Ref, RefOr, Schema, schema::ArrayItems};

/// The name of a plan's step.
const NAME: &str = "PlanStep";

/// What holds steps of a plan, and as which member.
const HOLDERS: [(&str, &str); 3] = [("Plan", "steps"), ("Season", "earlier"), ("FarmSeason", "earlier")];

/// Gives a plan's step a name of its own.
pub fn tell_apart(description: &mut OpenApi) {
    let Some(components) = &mut description.components else { return };
    let schemas = &mut components.schemas;
    schemas.insert("Step".to_owned(), baycast_model::futures::Step::schema());
    schemas.insert(NAME.to_owned(), baycast_model::plan::answer::Step::schema());
    for (holder, member) in HOLDERS {
        let Some(RefOr::T(Schema::Object(holder))) = schemas.get_mut(holder) else { continue };
        if let Some(RefOr::T(Schema::Array(steps))) = holder.properties.get_mut(member) {
            steps.items = ArrayItems::RefOrSchema(Box::new(Ref::from_schema_name(NAME).into()));
        }
    }
}
