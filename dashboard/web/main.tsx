import { render } from 'preact';
import { showIn } from '../views/shown-units.ts';
import { App } from './app.tsx';
import { rememberedUnits } from './units.ts';
import { forgetOldTyping } from './use-kept.ts';

forgetOldTyping();
showIn(rememberedUnits());
const root = document.getElementById('page');
if (root !== null) render(<App />, root);
