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
import { browserMachines } from './machines.ts';

mount(App, {
  target: document.getElementById('app')!,
  props: { desk: new Desk(browserMachines()) },
});
