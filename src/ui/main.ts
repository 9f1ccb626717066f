import '@fontsource/barlow/latin-400.css';
import '@fontsource/barlow/latin-500.css';
import '@fontsource/barlow/latin-600.css';
import '@fontsource/barlow/latin-ext-400.css';
import '@fontsource/barlow/latin-ext-500.css';
import '@fontsource/barlow/latin-ext-600.css';
import './app.css';
import { mount } from 'svelte';
import App from './App.svelte';
import { Desk } from './desk.svelte.ts';
import { browserKeeping } from './keeping.ts';
import { browserMachines } from './machines.ts';
import { stoodOpen } from './parts/stood.ts';
import { Offline } from './offline.svelte.ts';

const desk = new Desk(browserMachines());
const offline = new Offline();
// Where this window stood before it was loaded again.
const stood = { id: stoodOpen(), step: location.hash.slice(2) };
mount(App, { target: document.getElementById('app')!, props: { desk, offline } });
void desk.restore(browserKeeping(), stood);
void offline.begin();
