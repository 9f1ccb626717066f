import fc from 'fast-check';

/** The gate tries the same examples every time; FC_SEED=number tries others. A failure names its seed and path. */
fc.configureGlobal({ seed: Number(process.env.FC_SEED ?? 20260101) });
