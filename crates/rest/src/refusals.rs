//! Why an operation on what is kept is declined, as the description tells it.

use utoipa::IntoResponses;

use crate::problem::Problem;

/// What any operation on what is kept may be declined for.
#[derive(IntoResponses)]
#[expect(dead_code, reason = "read by the description alone")]
pub enum Refusals {
    /// No good key
    #[response(status = 401, content_type = "application/problem+json")]
    Unauthenticated(Problem),
    /// The key's scope does not allow it
    #[response(status = 403, content_type = "application/problem+json")]
    Forbidden(Problem),
    /// No such thing within the key's reach
    #[response(status = 404, content_type = "application/problem+json")]
    NotFound(Problem),
    /// Values that cannot be used, all at once
    #[response(status = 422, content_type = "application/problem+json")]
    Invalid(Problem),
    /// More requests than one caller may make; `Retry-After` says when to come back
    #[response(status = 429, content_type = "application/problem+json")]
    TooOften(Problem),
    /// The records cannot be reached, or take nothing; `Retry-After` says when to come back
    #[response(status = 503, content_type = "application/problem+json")]
    Unavailable(Problem),
}

/// What reading by a feed address may be declined for.
#[derive(IntoResponses)]
#[expect(dead_code, reason = "read by the description alone")]
pub enum AddressRefusals {
    /// No such address, or one that was revoked; or nothing by that name on its farm
    #[response(status = 404, content_type = "application/problem+json")]
    NotFound(Problem),
    /// Parameters that cannot be used, all at once
    #[response(status = 422, content_type = "application/problem+json")]
    Invalid(Problem),
    /// More requests than one caller may make; `Retry-After` says when to come back
    #[response(status = 429, content_type = "application/problem+json")]
    TooOften(Problem),
    /// The records cannot be reached, or take nothing; `Retry-After` says when to come back
    #[response(status = 503, content_type = "application/problem+json")]
    Unavailable(Problem),
}

/// What working something out from a body may be declined for.
#[derive(IntoResponses)]
#[expect(dead_code, reason = "read by the description alone")]
pub enum WorkRefusals {
    /// Not JSON
    #[response(status = 400, content_type = "application/problem+json")]
    Malformed(Problem),
    /// Too large
    #[response(status = 413, content_type = "application/problem+json")]
    TooLarge(Problem),
    /// Not said to be JSON
    #[response(status = 415, content_type = "application/problem+json")]
    UnsupportedMediaType(Problem),
    /// Fields that cannot be used, all at once
    #[response(status = 422, content_type = "application/problem+json")]
    Invalid(Problem),
    /// Too busy, or the records cannot be reached; `Retry-After` says when to come back
    #[response(status = 503, content_type = "application/problem+json")]
    Busy(Problem),
    /// Out of time
    #[response(status = 504, content_type = "application/problem+json")]
    Deadline(Problem),
}

/// What writing may be declined for besides.
#[derive(IntoResponses)]
#[expect(dead_code, reason = "read by the description alone")]
pub enum WriteRefusals {
    /// Not JSON
    #[response(status = 400, content_type = "application/problem+json")]
    Malformed(Problem),
    /// In conflict with what is there
    #[response(status = 409, content_type = "application/problem+json")]
    Conflict(Problem),
    /// Too large
    #[response(status = 413, content_type = "application/problem+json")]
    TooLarge(Problem),
    /// Not said to be JSON
    #[response(status = 415, content_type = "application/problem+json")]
    UnsupportedMediaType(Problem),
}

/// What changing one version of a thing into the next may be declined for besides.
#[derive(IntoResponses)]
#[expect(dead_code, reason = "read by the description alone")]
pub enum VersionRefusals {
    /// Changed meanwhile
    #[response(status = 412, content_type = "application/problem+json")]
    Stale(Problem),
    /// `If-Match` with the tag that was read is needed
    #[response(status = 428, content_type = "application/problem+json")]
    PreconditionRequired(Problem),
}
