/** Stands in for the native text reader that msgpackr would use: it goes on in JavaScript where none can be loaded. */
throw new Error('Aftermile loads no native package; msgpackr reads its texts in JavaScript.')
