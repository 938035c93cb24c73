"""Job documents put together from a base and a patch."""

from copy import deepcopy

from ventrules.engine.findings import Document


def merged(document: Document, patch: Document) -> Document:
    """Return a document with a JSON merge patch applied.

    Mappings merge, null takes a key away, and everything else, lists included, replaces what was there
    (RFC 7396, section 2).

    Args:
        document: The document.
        patch: The patch.

    Returns:
        A new document that shares no mapping and no list with the two, which stay as they were.
    """
    if not isinstance(patch, dict):
        return deepcopy(patch)
    done = deepcopy(document) if isinstance(document, dict) else {}
    for key, value in patch.items():
        if value is None:
            done.pop(key, None)
        else:
            done[key] = merged(done.get(key), value)
    return done
