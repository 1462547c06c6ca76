//! JSON answers end with a newline, so that a terminal shows its prompt on a line of its own after them.

use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::CONTENT_TYPE;
use actix_web::middleware::Next;
use actix_web::web::BytesMut;

/// Ends what handlers answer. Problems end themselves (`Problem::response`), because some are written outside of handlers.
/// This stands inside the compression, and before the length of the body is stated.
pub async fn end_json_with_a_newline(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, actix_web::Error> {
    let answer = next.call(request).await?.map_into_boxed_body();
    let is_json = answer
        .headers()
        .get(CONTENT_TYPE)
        .is_some_and(|media| media.as_bytes().starts_with(b"application/json"));
    Ok(if is_json { answer.map_body(|_, body| ended(body)) } else { answer })
}

fn ended(body: BoxBody) -> BoxBody {
    match body.try_into_bytes() {
        Ok(bytes) if bytes.is_empty() || bytes.ends_with(b"\n") => BoxBody::new(bytes),
        Ok(bytes) => {
            let mut whole = BytesMut::from(bytes);
            whole.extend_from_slice(b"\n");
            BoxBody::new(whole.freeze())
        }
        // A body without a known length is not one of our documents.
        Err(body) => body,
    }
}
